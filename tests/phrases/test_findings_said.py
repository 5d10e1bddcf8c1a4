"""Phrases of the findings: what they mean, in words and in figures, and what they are not taken for."""

from pathlib import Path

import pytest

from tests.english import load
from tests.phrases.telling import told
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader, NotAPhraseError

DOCUMENT = Path(__file__).parents[2] / "docs" / "findings.md"
READER = LineReader(load(), "entry", Layer.WRITTEN)
LINES = LineReader(load(), "entry clinic", Layer.WRITTEN)


def meaning(text: str) -> dict[str, object]:
    """The one meaning of a line, as JSON without what was not said."""
    ((found,),) = READER.understand(text).readings
    return told(found)


def snellen(unit: str, distance: float, line: float) -> dict[str, object]:
    """An acuity value that is a fraction."""
    return {"snellen": {unit: distance, "line": line}}


ACUITIES = {
    "six nine": snellen("metres", 6, 9),
    "six over nine": snellen("metres", 6, 9),
    "six nine point five": snellen("metres", 6, 9.5),
    "six seven point five": snellen("metres", 6, 7.5),
    "six twelve": snellen("metres", 6, 12),
    "six sixty": snellen("metres", 6, 60),
    "six one twenty": snellen("metres", 6, 120),
    "three sixty": snellen("metres", 3, 60),
    "one sixty": snellen("metres", 1, 60),
    "four six point three": snellen("metres", 4, 6.3),
    "twenty twenty": snellen("feet", 20, 20),
    "twenty twenty five": snellen("feet", 20, 25),
    "twenty forty": snellen("feet", 20, 40),
    "twenty twelve point five": snellen("feet", 20, 12.5),
    "twenty two hundred": snellen("feet", 20, 200),
    "twenty one twenty five": snellen("feet", 20, 125),
    "twenty four hundred": snellen("feet", 20, 400),
    "ten two hundred": snellen("feet", 10, 200),
    "point five": {"decimal": 0.5},
    "decimal zero point eight": {"decimal": 0.8},
    "one point oh": {"decimal": 1.0},
    "one point two five": {"decimal": 1.25},
    "log mar point one": {"logmar": 0.1},
    "log mar minus point one": {"logmar": -0.1},
    "log mar minus zero point oh eight": {"logmar": -0.08},
    "log mar one point three": {"logmar": 1.3},
    "counting fingers": {"category": "counting_fingers"},
    "hand motion": {"category": "hand_movements"},
    "perception of light": {"category": "light_perception"},
    "no light perception": {"category": "no_light_perception"},
    "six nine plus two": {**snellen("metres", 6, 9), "letters": 2},
    "twenty forty minus one": {**snellen("feet", 20, 40), "letters": -1},
    # in figures
    "6/9": snellen("metres", 6, 9),
    "6 9": snellen("metres", 6, 9),
    "69": snellen("metres", 6, 9),
    "6-9": snellen("metres", 6, 9),
    "6/9.5": snellen("metres", 6, 9.5),
    "6/60 -2": {**snellen("metres", 6, 60), "letters": -2},
    "612": snellen("metres", 6, 12),
    "20/40": snellen("feet", 20, 40),
    "2040": snellen("feet", 20, 40),
    "20 200": snellen("feet", 20, 200),
    "20/12.5 +1": {**snellen("feet", 20, 12.5), "letters": 1},
    "0.5": {"decimal": 0.5},
    "1.0": {"decimal": 1.0},
    "logmar 0.2": {"logmar": 0.2},
    "logMAR -0.10": {"logmar": -0.1},
    "log mar -0.1": {"logmar": -0.1},
}


@pytest.mark.parametrize(("said", "value"), ACUITIES.items())
def test_acuities(said: str, value: dict[str, object]) -> None:
    assert meaning(f"acuity {said}") == {"kind": "acuity", "value": value}


@pytest.mark.parametrize(
    ("said", "named"),
    [
        ("unaided", {"correction": "unaided"}),
        ("right eye", {"eye": "right"}),
        ("left", {"eye": "left"}),
        ("both eyes aided", {"eye": "both", "correction": "aided"}),
        ("refined left eye", {"eye": "left", "correction": "refined"}),
    ],
)
def test_eye_and_correction_of_an_acuity(said: str, named: dict[str, str]) -> None:
    assert meaning(f"acuity {said} six nine") == {"kind": "acuity", **named, "value": snellen("metres", 6, 9)}


@pytest.mark.parametrize(
    "said",
    [
        "va re 6/9 le 6/12",
        "va right 6/9 left 6/12",
        "acuity o d 6/9 o s 6/12",
        "v a right six nine left six twelve",
    ],
)
def test_each_of_two_acuities_in_one_breath_has_its_own_eye(said: str) -> None:
    ((right, left),) = LineReader(load(), "line", Layer.WRITTEN).understand(said).readings

    assert told(right) == {"kind": "acuity", "eye": "right", "value": snellen("metres", 6, 9)}
    assert told(left) == {"kind": "acuity", "eye": "left", "value": snellen("metres", 6, 12)}


MILLIMETRES = {
    "sixty three": 63.0,
    "six three": 63.0,
    "sixty three and a half": 63.5,
    "thirty one point five": 31.5,
    "twelve": 12.0,
    "nine millimetres": 9.0,
    "six hundred and twenty": 620.0,
    "63": 63.0,
    "31.5": 31.5,
    "12 mm": 12.0,
    "12mm": 12.0,
    "620": 620.0,
}


@pytest.mark.parametrize(("said", "millimetres"), MILLIMETRES.items())
def test_millimetres(said: str, millimetres: float) -> None:
    """Wider than any face: what cannot be said would be taken for its neighbour."""
    assert meaning(f"vertex {said}") == {"kind": "vertex", "vertex_mm": millimetres}
    assert meaning(f"pupils distance {said}") == {"kind": "pupils_distance", "both_mm": millimetres}


@pytest.mark.parametrize(
    ("said", "named"),
    [
        ("far right 31 left 32", {"at": "far", "right_mm": 31, "left_mm": 32}),
        ("near left thirty right thirty one", {"at": "near", "right_mm": 31, "left_mm": 30}),
        ("right thirty two", {"right_mm": 32}),
    ],
)
def test_halves_of_the_pupils_distance(said: str, named: dict[str, object]) -> None:
    assert meaning(f"pupils distance {said}") == {"kind": "pupils_distance", **named}


@pytest.mark.parametrize(
    ("said", "sphere", "cylinder"),
    [
        ("sphere minus two and a quarter", -2.25, None),
        ("minus two twenty five", -2.25, None),
        ("-2.25", -2.25, None),
        ("sphere plano cylinder minus one axis ninety", 0.0, {"power": -1.0, "axis": 90}),
        ("minus two minus one by one eighty", -2.0, {"power": -1.0, "axis": 180}),
        ("-2 -1 x 90", -2.0, {"power": -1.0, "axis": 90}),
        ("sphere 2", {"size": 2.0, "sign": None}, None),
    ],
)
@pytest.mark.parametrize("word", ["refined", "spectacles", "refined right eye", "spectacles left"])
def test_refined_results_and_spectacles(word: str, said: str, sphere: object, cylinder: object) -> None:
    found = meaning(f"{word} {said}")

    lens: dict[str, object] = {"sphere": sphere}
    if isinstance(sphere, dict):
        lens["sphere"] = {"size": 2.0, "sign": None}
    assert found["lens"] == (lens if cylinder is None else lens | {"cylinder": cylinder})
    assert found["kind"] == word.split()[0]
    assert found.get("eye") == (word.split()[1] if " " in word else None)


@pytest.mark.parametrize(
    ("said", "given"),
    [
        ("tropicamide one percent both eyes", {"strength_percent": 1.0, "eye": "both"}),
        ("tropicamide 0.5% right eye", {"strength_percent": 0.5, "eye": "right"}),
        ("tropicamide 2.5 % left", {"strength_percent": 2.5, "eye": "left"}),
        ("tropicamide half a percent", {"strength_percent": 0.5}),
        ("tropicamide both at ten fifteen", {"eye": "both", "clock": {"hour": 10, "minute": 15}}),
        ("tropicamide both at nine oh five", {"eye": "both", "clock": {"hour": 9, "minute": 5}}),
        ("tropicamide both at 14:30", {"eye": "both", "clock": {"hour": 14, "minute": 30}}),
        ("tropicamide both at twenty two forty", {"eye": "both", "clock": {"hour": 22, "minute": 40}}),
        ("tropicamide both at ten o'clock", {"eye": "both", "clock": {"hour": 10, "minute": 0}}),
        ("tropicamide both at ten seventy", {"eye": "both", "clock": {"hour": 10, "minute": 70}}),
    ],
)
def test_drops(said: str, given: dict[str, object]) -> None:
    assert meaning(f"drops {said}") == {"kind": "drops", "agent": "tropicamide", **given}


def test_marks_behind_a_percent_sign_do_not_matter() -> None:
    """A recogniser may write hyphens and stops behind any word."""
    plain = meaning("drops tropicamide 2.5% right eye at 10:15")

    assert meaning("Drops tropicamide 2.5%-right eye, at 10:15.") == plain
    assert meaning("drops tropicamide 2.5%, right-eye at 10:15") == plain
    assert meaning("Drops tropicamide 2.5%.") == meaning("drops tropicamide 2.5%")


@pytest.mark.parametrize(
    ("said", "agent"),
    [("proparacaine", "proxymetacaine"), ("benoxinate", "oxybuprocaine"), ("amethocaine", "tetracaine")],
)
def test_two_names_of_one_agent(said: str, agent: str) -> None:
    """International and United States names (WHO lists of international nonproprietary names; from memory)."""
    assert meaning(f"drops {said} both") == {"kind": "drops", "agent": agent, "eye": "both"}


def documented() -> list[str]:
    """The phrases of the table in docs/findings.md, said and typed."""
    rows = [
        line.split("|")[2:4] for line in DOCUMENT.read_text(encoding="utf-8").splitlines() if line[:2] == "| "
    ]
    phrases = [phrase.strip(" `") for said, typed in rows[1:] for phrase in (*said.split("·"), typed)]
    return [phrase for phrase in phrases if phrase]


@pytest.mark.parametrize("line", documented())
def test_what_the_document_says_can_be_said(line: str) -> None:
    assert len(LINES.understand(line).readings) == 1


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("next pass", {"kind": "pass"}),
        ("third pass", {"kind": "pass", "number": 3}),
        ("technique sphere and cylinder", {"kind": "technique", "technique": "sphere_cylinder"}),
        ("pupil size left eye four point five", {"kind": "pupils", "eye": "left", "size_mm": 4.5}),
        ("pupils equal", {"kind": "pupils", "look": "equal"}),
        ("addition plus two", {"kind": "addition", "power": 2.0}),
        ("addition both eyes plus 1.75", {"kind": "addition", "eye": "both", "power": 1.75}),
        ("read findings", {"kind": "tell", "say": "findings"}),
        ("split reflex", {"kind": "reflex", "reflex": "split"}),
    ],
)
def test_other_findings(line: str, found: dict[str, object]) -> None:
    assert meaning(line) == found


@pytest.mark.parametrize(
    "line",
    [
        "six nine",
        "twenty forty",
        "point five",
        "sixty three",
        "acuity six",
        "acuity nine",
        "acuity 25",
        "acuity twenty",
        "acuity 20",
        "refined two and a quarter",
        "spectacles two",
        "addition",
        "vertex",
        "drops one percent",
        "drops tropicamide one",
        "pass",
        "pupils sixty three",
        "logmar point one",
        "counting fingers",
    ],
)
def test_no_number_stands_alone_and_nothing_is_half_said(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        READER.understand(line)


@pytest.mark.parametrize("line", ["acuity six nien", "acuity unaidet six nine", "drops tropicamid both"])
def test_numbers_are_not_even_suggested_but_words_are(line: str) -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand(line)

    assert ("did you mean" in str(caught.value)) == ("nien" not in line)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("no r a p d", {"kind": "afferent_defect", "present": False}),
        ("left r a p d", {"kind": "afferent_defect", "eye": "left", "present": True}),
        (
            "relative afferent pupillary defect in the right eye",
            {"kind": "afferent_defect", "eye": "right", "present": True},
        ),
        ("n p c is eight centimetres", {"kind": "convergence", "break_cm": 8.0}),
        (
            "near point of convergence six recovery nine",
            {"kind": "convergence", "break_cm": 6.0, "recovery_cm": 9.0},
        ),
        ("near right j one", {"kind": "acuity", "eye": "right", "value": {"jaeger": 1}}),
        ("reads n five at thirty three", {"kind": "acuity", "value": {"n_points": 5.0, "at_cm": 33.0}}),
        ("age seven", {"kind": "patient_age", "age": {"years": 7}}),
        ("age 7", {"kind": "patient_age", "age": {"years": 7}}),
        ("eighteen months old", {"kind": "patient_age", "age": {"months": 18}}),
        ("age three years six months", {"kind": "patient_age", "age": {"years": 3, "months": 6}}),
        ("aged forty two", {"kind": "patient_age", "age": {"years": 42}}),
        ("never worn glasses", {"kind": "note", "text": "no spectacles"}),
        ("left pupil fixed and dilated", {"kind": "pupils", "eye": "left", "look": "fixed_dilated"}),
    ],
)
def test_signs_and_near_print(line: str, said: dict[str, object]) -> None:
    found = meaning(line)
    if said["kind"] == "afferent_defect":
        found = {"present": False, **found}
    assert found == said


@pytest.mark.parametrize("line", ["left pupil is fixed", "r a p d both eyes", "n p c"])
def test_what_tells_too_little_claims_nothing(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        READER.understand(line)
