"""Findings beside the readings, typed: what is entered, what is asked about, what corrections make of them."""

from typing import Any

import pytest

from tests.exam.typing import exam, typed
from voicelog.exam.entries import (
    ENTRY,
    AcuityEntry,
    AdditionEntry,
    DropsEntry,
    PupillaryDistanceEntry,
    PupilsEntry,
    SpectaclesEntry,
    SubjectiveEntry,
    VertexEntry,
)
from voicelog.exam.state import ExamState, EyeName
from voicelog.exam.summary import summary

# One of each, for both eyes; powers, eyes and numbers of our own invention.
WHOLE = """right eye
acuity unaided 6/60
acuity aided six nine minus two
spectacles sphere -1.50 cylinder -0.50 axis 175 addition plus one
pupil size four
refined sphere minus one seventy five cylinder minus a half axis one eighty
acuity refined six five
left eye
acuity unaided counting fingers
acuity aided point eight
spectacles plus two
refined plus two and a quarter
acuity both aided log mar point one
addition plus two
pupils distance right thirty one point five left thirty two
pupils distance near 60
pupils unequal
vertex distance twelve
drops tropicamide one percent both eyes
drops cyclopentolate point five percent right eye at nine oh five"""


def acuities(state: ExamState) -> dict[tuple[str, str | None], str]:
    """Eye and correction to the acuity as it was said."""
    return {(entry.eye, entry.correction): entry.value_words() for _, entry in state.findings.of(AcuityEntry)}


def lens_of(entry: SubjectiveEntry | SpectaclesEntry | None) -> tuple[float | None, ...] | None:
    """Sphere, cylinder, axis and, of spectacles, addition."""
    if entry is None:
        return None
    lens = entry.lens
    found = (lens.sphere_d, lens.cylinder_d, lens.axis_deg)
    return (*found, entry.addition_d) if isinstance(entry, SpectaclesEntry) else found


def eye_findings(state: ExamState, eye: EyeName) -> dict[str, Any]:
    """Spectacles, subjective result, addition and pupil of one eye."""
    addition = state.findings.last(AdditionEntry, eye)
    pupil = next((each for _, each in state.findings.of(PupilsEntry) if each.eye == eye), None)
    return {
        "spectacles": lens_of(state.findings.last(SpectaclesEntry, eye)),
        "subjective": lens_of(state.findings.last(SubjectiveEntry, eye)),
        "addition": None if addition is None else addition.power_d,
        "pupil_mm": None if pupil is None else pupil.size_mm,
    }


def last(lines: str) -> tuple[str, str, ExamState]:
    """Outcome and reply of the last line, and the state."""
    answers, state = typed(lines)
    return answers[-1].outcome, answers[-1].reply, state


def test_everything_found_is_kept() -> None:
    state = exam(WHOLE)

    assert acuities(state) == {
        ("right", "unaided"): "6/60",
        ("right", "aided"): "6/9 -2",
        ("right", "refined"): "6/5",
        ("left", "unaided"): "counting fingers",
        ("left", "aided"): "0.8",
        ("both", "aided"): "logMAR 0.10",
    }
    assert eye_findings(state, "right") == {
        "spectacles": (-1.5, -0.5, 175, 1.0),
        "subjective": (-1.75, -0.5, 180),
        "addition": 2.0,
        "pupil_mm": 4.0,
    }
    assert eye_findings(state, "left") == {
        "spectacles": (2.0, 0.0, None, None),
        "subjective": (2.25, 0.0, None),
        "addition": 2.0,
        "pupil_mm": None,
    }
    distances = [
        (each.at, each.total_mm, each.right_mm) for _, each in state.findings.of(PupillaryDistanceEntry)
    ]
    assert distances == [("far", 63.5, 31.5), ("near", 60.0, None)]
    drops = [
        (each.agent, each.strength_percent, each.eye, each.clock and (each.clock.hour, each.clock.minute))
        for _, each in state.findings.of(DropsEntry)
    ]
    assert drops == [("tropicamide", 1.0, "both", None), ("cyclopentolate", 0.5, "right", (9, 5))]


def test_every_finding_is_in_the_summary_with_its_numbers_and_units() -> None:
    state = exam(WHOLE)
    found = {each["id"]: each for each in summary(state)["findings"]}

    assert found.keys() == {each.id for each in state.findings.found}
    for each in state.findings.found:
        shown = found[each.id]
        assert (shown["eye"], shown["label"], shown["text"]) == (
            each.entry.about,
            each.entry.label,
            each.entry.value_words(),
        )
        assert shown["quantities"] == [
            {"part": one.part, "value": one.value, "unit": one.unit} for one in each.entry.quantities()
        ]
        assert ENTRY.validate_python(shown["entry"]) == each.entry
    assert {(each["label"], each["text"]) for each in found.values()} >= {
        ("acuity best corrected", "6/5"),
        ("spectacles worn", "-1.50 -0.50 x 175, addition +1.00"),
        ("subjective", "-1.75 -0.50 x 180"),
        ("near addition", "+2.00"),
        ("pupillary distance, far,", "63.5 mm (right 31.5, left 32)"),
        ("back vertex distance", "12 mm"),
        ("drops", "cyclopentolate 0.5 %, at 9:05"),
    }


@pytest.mark.parametrize(
    ("said", "logmar"),
    [
        ("six nine minus two", 0.176),
        ("twenty forty", 0.301),
        ("point eight", 0.097),
        ("counting fingers", None),
    ],
)
def test_acuity_has_its_logmar_and_words_have_none(said: str, logmar: float | None) -> None:
    (found,) = summary(exam(f"right eye\nacuity {said}"))["findings"]

    assert found["quantities"] == (
        [] if logmar is None else [{"part": "logmar", "value": logmar, "unit": "1"}]
    )


def test_findings_say_nothing_about_the_readings() -> None:
    """Not even where they hold lenses: a refined sphere is not a lens before the eye."""
    state = exam(f"{WHOLE}\nright eye")

    for eye in state.eyes.values():
        assert eye.status == "empty"
        assert eye.lenses.empty


@pytest.mark.parametrize(
    ("line", "question"),
    [
        ("refined sphere two", "plus or minus"),
        ("refined two and a quarter", "not finished"),
        ("spectacles sphere 1.50", "plus or minus"),
        ("addition two", "plus or minus"),
        ("refined cylinder minus one", "which axis"),
        ("refined minus two minus one by 190", "not within 1 to 180"),
        ("refined sphere plus forty", "beyond 30 D"),
        ("refined sphere plus two point three", "no step of a lens set"),
        ("spectacles sphere plus two point three", "no quarter or eighth: is it right?"),
        ("refined cylinder minus one axis 90", "and the sphere?"),
        ("spectacles left cylinder minus one axis 90", "and the sphere?"),
        ("addition minus two", "a near addition is plus"),
        ("addition plus six", "unusual"),
        ("spectacles sphere plus two addition minus one", "a near addition is plus"),
        ("acuity 6/0.1", "beyond every chart"),
        ("acuity six thirteen", "on no usual chart"),
        ("acuity twenty ninety", "on no usual chart"),
        ("acuity nine point five", "beyond every chart"),
        ("acuity logmar 9.5", "beyond every chart"),
        ("acuity 0.0", "beyond every chart"),
        ("pupils distance 620", "not within 35 to 85"),
        ("pupils distance six", "not within 35 to 85"),
        ("pupils distance right 62", "not within 17.5 to 42.5"),
        ("pupils distance right 28 left 36", "far apart"),
        ("pupil size forty", "not within 1 to 10"),
        ("vertex distance fifty", "not within 5 to 25"),
        ("drops tropicamide one percent", "in which eye"),
        ("drops cyclopentolate ten percent both eyes", "cyclopentolate of 10 % is not in use"),
        ("drops atropine ten percent both eyes", "atropine of 10 % is not in use"),
        ("drops atropine point nine percent both eyes at 25:10", "no time of day"),
        ("drops atropine one percent both eyes at ten sixty five", "no time of day"),
    ],
)
def test_doubtful_findings_are_asked_about_and_not_entered(line: str, question: str) -> None:
    outcome, reply, state = last(f"right eye\n{line}")

    assert outcome == "asked"
    assert question in reply
    assert state.findings.empty


@pytest.mark.parametrize(
    "line",
    [
        "acuity six nine",
        "refined sphere plus two",
        "spectacles sphere plus two",
        "pupil size four",
        "next pass",
    ],
)
def test_without_an_eye_it_is_asked_for(line: str) -> None:
    outcome, reply, state = last(line)

    assert (outcome, reply) == ("asked", "which eye?")
    assert state.findings.empty


def test_naming_the_eye_enters_what_waited_for_it() -> None:
    _, state = typed("acuity unaided six nine\nleft eye\nrefined sphere plus two")

    assert acuities(state) == {("left", "unaided"): "6/9"}
    assert eye_findings(state, "left")["subjective"] == (2.0, 0.0, None)
    assert state.question is None


@pytest.mark.parametrize(
    ("lines", "eye", "subjective"),
    [
        ("refined sphere two\nminus", "right", (-2.0, 0.0, None)),
        ("refined sphere two\nminus two", "right", (-2.0, 0.0, None)),
        ("refined sphere minus two cylinder minus one\naxis 90", "right", (-2.0, -1.0, 90)),
        ("refined cylinder minus one axis 90\nminus two", "right", (-2.0, -1.0, 90)),
        (
            "refined cylinder minus one axis 90\nrefined sphere minus two cylinder minus one axis 90",
            "right",
            (-2.0, -1.0, 90),
        ),
        ("refined left eye sphere minus two\nright eye", "left", (-2.0, 0.0, None)),
    ],
)
def test_an_answer_completes_a_finding(lines: str, eye: EyeName, subjective: tuple[float, ...]) -> None:
    _, state = typed(f"right eye\n{lines}")

    assert eye_findings(state, eye)["subjective"] == subjective
    assert state.question is None


def test_a_confirmed_finding_is_entered() -> None:
    _, state = typed("right eye\nacuity unaided six thirteen\nyes\nspectacles sphere +2.30\nyes")

    assert acuities(state) == {("right", "unaided"): "6/13"}
    assert eye_findings(state, "right")["spectacles"] == (2.3, 0.0, None, None)


def test_parts_of_the_subjective_result_join_what_was_said_before() -> None:
    answers, state = typed(
        "right eye\nrefined sphere minus two\nrefined cylinder minus one axis 90\nrefined cylinder zero"
    )

    assert [each.reply for each in answers[1:]] == [
        "right eye: subjective -2.00 DS",
        "right eye: subjective -2.00 -1.00 x 090, instead of -2.00 DS",
        "right eye: subjective -2.00 DS, instead of -2.00 -1.00 x 090",
    ]
    assert eye_findings(state, "right")["subjective"] == (-2.0, 0.0, None)


def test_the_sphere_that_was_asked_for_completes_the_cylinder() -> None:
    answers, state = typed("right eye\nrefined cylinder minus one axis 90\nrefined sphere minus two")

    assert [each.reply for each in answers[1:]] == [
        "and the sphere?",
        "right eye: subjective -2.00 -1.00 x 090",
    ]
    assert state.question is None


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        ("acuity unaided 6/9\ncorrection acuity 6/12", {("right", "unaided"): "6/12"}),
        ("acuity unaided 6/9\ncorrection acuity aided 6/9", {("right", "aided"): "6/9"}),
        ("acuity unaided 6/9\ncorrection acuity left 6/9", {("left", "unaided"): "6/9"}),
        (
            "acuity unaided 6/60\nacuity aided 6/9\ncorrection acuity unaided 6/36",
            {("right", "unaided"): "6/36", ("right", "aided"): "6/9"},
        ),
        (
            "acuity aided 6/9\nleft eye\nacuity aided 6/6\ncorrection acuity right 6/12",
            {("right", "aided"): "6/12", ("left", "aided"): "6/6"},
        ),
        ("acuity aided 6/9\nscratch that", {}),
        ("acuity aided 6/9\nacuity aided 6/6\nscratch that", {("right", "aided"): "6/9"}),
        ("acuity aided 6/9\nacuity aided 6/6", {("right", "aided"): "6/6"}),
        ("left eye\nacuity aided 6/9\nwrong eye", {("right", "aided"): "6/9"}),
        ("acuity left eye aided 6/9\nwrong eye", {("right", "aided"): "6/9"}),
    ],
)
def test_acuities_are_put_right(lines: str, found: dict[tuple[str, str], str]) -> None:
    assert acuities(exam(f"right eye\n{lines}")) == found


@pytest.mark.parametrize(
    ("lines", "eye", "key", "value"),
    [
        (
            "refined -2 -1 x 90\ncorrection refined cylinder minus two",
            "right",
            "subjective",
            (-2.0, -2.0, 90),
        ),
        ("refined -2 -1 x 90\ncorrection axis 95", "right", "subjective", (-2.0, -1.0, 95)),
        ("refined sphere -2\ncorrection minus three", "right", "subjective", (-3.0, 0.0, None)),
        ("refined sphere -2\nnot minus two plus two", "right", "subjective", (2.0, 0.0, None)),
        (
            "refined right eye sphere -2\nleft eye\nrefined right eye sphere -3\nwrong eye",
            "left",
            "subjective",
            (-3.0, 0.0, None),
        ),
        (
            "spectacles sphere +1 addition +2\ncorrection spectacles sphere +1.25",
            "right",
            "spectacles",
            (1.25, 0.0, None, 2.0),
        ),
        ("addition +2\ncorrection plus two and a half", "left", "addition", 2.5),
        ("addition +2\ncorrection addition +1.75", "left", "addition", 1.75),
        ("addition +2\nnot plus two plus three", "left", "addition", 3.0),
        ("addition left eye +2\nwrong eye", "right", "addition", 2.0),
        ("pupil size 4\ncorrection pupil size 5", "right", "pupil_mm", 5.0),
    ],
)
def test_findings_of_an_eye_are_put_right(lines: str, eye: EyeName, key: str, value: object) -> None:
    assert eye_findings(exam(f"right eye\n{lines}"), eye)[key] == value


def test_wrong_eye_behind_a_named_eye_leaves_the_eye_in_hand() -> None:
    state = exam("right eye\nstreak 90 with at +1\nacuity left eye 6/9\nwrong eye")

    assert state.eye == "right"
    assert len(state.eyes["right"].readings) == 1


@pytest.mark.parametrize(
    ("lines", "at", "found"),
    [
        ("pupils distance 63\ncorrection pupils distance 64", "far", (64.0, None, None)),
        ("pupils distance near 60\ncorrection pupils distance 61", "near", (61.0, None, None)),
        (
            "pupils distance right 31 left 32\ncorrection pupils distance left 33",
            "far",
            (64.0, 31.0, 33.0),
        ),
        ("pupils distance right 31\npupils distance left 32", "far", (63.0, 31.0, 32.0)),
        ("pupils distance right 31", "far", (None, 31.0, None)),
        ("pupils distance right 31 left 32\npupils distance 64", "far", (64.0, None, None)),
    ],
)
def test_pupils_distances(lines: str, at: str, found: tuple[float | None, ...]) -> None:
    (distance,) = (each for _, each in exam(lines).findings.of(PupillaryDistanceEntry) if each.at == at)

    assert (distance.total_mm, distance.right_mm, distance.left_mm) == found


def test_drops_and_vertex_are_put_right() -> None:
    lines = (
        "drops tropicamide half a percent both eyes at 9:05\ncorrection drops tropicamide one percent\n"
        "vertex 12\ncorrection vertex 14"
    )
    state = exam(lines)

    ((_, drops),) = state.findings.of(DropsEntry)
    assert drops.value_words() == "tropicamide 1 %, at 9:05"
    assert drops.eye == "both"
    ((_, vertex),) = state.findings.of(VertexEntry)
    assert vertex.vertex_mm == 14.0


@pytest.mark.parametrize(
    ("lines", "reply"),
    [
        ("correction acuity 6/9", "there is no acuity to correct"),
        ("addition +2\ncorrection minus two", "a near addition is plus"),
        ("addition +2\nnot plus two minus two", "a near addition is plus"),
        ("vertex 12\ncorrection vertex 120", "not within 5 to 25"),
        ("acuity 6/9\ncorrection acuity 6/13", "on no usual chart"),
        ("acuity 6/9\ncorrection minus two", "there is no power to correct"),
        ("refined -2 -1 x 90\ncorrection plus three", "correction sphere or correction cylinder"),
        ("refined sphere -2\ncorrection axis 90", "no cylinder axis"),
    ],
)
def test_a_correction_that_does_not_fit_changes_nothing(lines: str, reply: str) -> None:
    before, _, _ = lines.rpartition("\n")
    answers, state = typed(f"right eye\n{lines}")

    assert answers[-1].outcome == "asked"
    assert reply in answers[-1].reply
    assert state.findings == exam(f"right eye\n{before}".strip()).findings


def test_more_looks_of_the_reflex() -> None:
    state = exam("right eye\nsplit reflex\nchanging reflex\nabsent reflex\nstreak 90 scissors")

    assert [(each.reflex, each.meridian_deg) for each in state.eyes["right"].reflexes] == [
        ("split", None),
        ("changing", None),
        ("none", None),
        ("scissors", 180),
    ]
    assert [each["reflex"] for each in summary(state)["eyes"]["right"]["reflex"]] == [
        "split",
        "changing",
        "none",
        "scissors",
    ]


def test_findings_are_read_out() -> None:
    outcome, reply, _ = last(f"{WHOLE}\nread findings")

    assert outcome == "accepted"
    for part in (
        "right eye: acuity unaided 6/60; acuity with spectacles worn 6/9 -2",
        "spectacles worn -1.50 -0.50 x 175, addition +1.00",
        "subjective -1.75 -0.50 x 180",
        "left eye: acuity unaided counting fingers",
        "both eyes: acuity with spectacles worn logMAR 0.10",
        "pupillary distance, far, 63.5 mm (right 31.5, left 32)",
        "cyclopentolate 0.5 %, at 9:05",
    ):
        assert part in reply
    assert last("read findings")[1] == "no finding beside the readings yet"


def test_no_dose_is_ever_suggested() -> None:
    """Without a strength none is filled in, in the log or in words."""
    _, reply, state = last("drops atropine both eyes\nread findings")

    ((_, drops),) = state.findings.of(DropsEntry)
    assert drops.strength_percent is None
    assert drops.quantities() == ()
    assert "%" not in reply


def test_a_bare_correction_behind_an_autorefraction_leaves_the_reading() -> None:
    """It once changed the retinoscopy reading before it."""
    before = "right eye\nworking distance 50\nstreak 90 neutral at plus two\nautorefraction right plus a half"

    assert last(f"{before}\ncorrection plus one")[1] == (
        "right eye: autorefraction +1.00 DS, instead of +0.50 DS"
    )
