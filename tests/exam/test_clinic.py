"""What is typed around the reflex: entered as it is said, never a lens, never an answer to what was asked."""

import pytest

from tests.exam.typing import Typist
from voicelog.exam.entries import KeratometryEntry, ReadingEntry, WorkingLensEntry
from voicelog.exam.entries.cornea import KERATOMETRIC_D_MM

HEAD = "right eye\nworking distance 50\nstreak 90 neutral at plus two"
STEPS = {
    "fogged to six twelve": "right eye: fogged to 6/12",
    "fogged to plus two": "right eye: fogged +2.00",
    "fogging left by plus one fifty": "left eye: fogged +1.50",
    "cross cylinder axis ninety five": "right eye: cross cylinder axis 095",
    "jackson cross cyl power minus 75": "right eye: cross cylinder -0.75",
    "jcc axis 85 and power minus a half": "right eye: cross cylinder -0.50 axis 085",
    "cross cylinder confirmed": "right eye: cross cylinder confirmed",
    "duochrome red clearer": "right eye: duochrome red clearer",
    "duochrome left green": "left eye: duochrome green clearer",
    "red and green equal": "right eye: duochrome equal",
    "duochrome equal": "right eye: duochrome equal",
    "binocular balance equal": "both eyes: binocular balance equal",
    "binocular balance right clearer": "both eyes: binocular balance right clearer",
    "end point plus two twenty five": "right eye: end point +2.25",
    "end point six six": "right eye: end point 6/6",
    "end point reached": "right eye: end point reached",
    "maximum plus end point": "right eye: end point maximum plus",
}
STANDING = {
    "near phoria four exo": "both eyes: cover test, near, 4 prism dioptres exo",
    "exo 4 at near": "both eyes: cover test, near, 4 prism dioptres exo",
    "cover test distance ortho": "both eyes: cover test, far, ortho",
    "cover test no movement": "both eyes: cover test ortho",
    "2 exophoria distance": "both eyes: cover test, far, 2 prism dioptres exophoria",
    "alternating esotropia 20": "both eyes: cover test 20 prism dioptres alternating esotropia",
    "right hypertropia 5": "both eyes: cover test 5 prism dioptres right hypertropia",
    "left intermittent exotropia 15 near": "both eyes: cover test, near, 15 prism dioptres intermittent left exotropia",
    "3 base in right": "right eye: prism 3 prism dioptres base in",
    "left prism 2.5 base up": "left eye: prism 2.5 prism dioptres base up",
    "3 prism dioptres base in both eyes": "both eyes: prism 3 prism dioptres base in",
    "grating acuity right 4.8 cycles per degree": "right eye: acuity 4.8 cycles per degree",
    "acuity both eyes 9.6 cpd": "both eyes: acuity 9.6 cycles per degree",
    "left fix and follow": "left eye: acuity fixes and follows",
}
CORNEA = {
    "keratometry 43.50 at 180 44.25 at 90": "right eye: keratometry 43.50 D (7.76 mm) at 180, 44.25 D (7.63 mm) at 090",
    "k readings left 7.80 at 180 and 7.65 at 90": (
        "left eye: keratometry 7.80 mm (43.27 D) at 180, 7.65 mm (44.12 D) at 090"
    ),
    "k's forty three fifty at one eighty": "right eye: keratometry 43.50 D (7.76 mm) at 180",
    "keratometry forty three and a half at ninety": "right eye: keratometry 43.50 D (7.76 mm) at 090",
    "k seven point eight five at five": "right eye: keratometry 7.85 mm (42.99 D) at 005",
}
ALL = {**STEPS, **STANDING, **CORNEA}
READING = "right eye: streak vertical (power along 180) neutral, sphere +2.00"


def typed(lines: str) -> Typist:
    typist = Typist()
    for line in lines.splitlines():
        typist.type(line)
    return typist


@pytest.mark.parametrize(("line", "reply"), ALL.items())
def test_it_is_entered_as_it_was_said(line: str, reply: str) -> None:
    typist = typed(HEAD)

    answer = typist.type(line)

    assert (answer.outcome, answer.reply) == ("accepted", reply)
    assert typist.type("scratch that").reply == f"taken back: {reply}"


@pytest.mark.parametrize("line", ALL)
def test_it_changes_no_lens_and_no_reading(line: str) -> None:
    before, after = typed(HEAD).state, typed(f"{HEAD}\n{line}").state

    assert after.eyes["right"].readings == before.eyes["right"].readings
    assert after.eyes["right"].in_place == before.eyes["right"].in_place
    assert after.distance_cm == before.distance_cm


QUESTIONS = {
    "a yes": f"{HEAD}\nstreak 180 neutral at plus 20\nspectacles plus 2.30",
    "a sign": "right eye\nworking distance 50\nstreak 90 neutral at two",
    "an eye": "working distance 50\nstreak 90 neutral at plus two",
}


@pytest.mark.parametrize("lines", QUESTIONS.values(), ids=QUESTIONS)
@pytest.mark.parametrize("line", ["duochrome equal", "red and green equal", "duochrome", "end point reached", "fogged",
                                  "cross cylinder", "binocular balance", "cross cylinder confirmed", "over refraction",
                                  "cover test no movement", "keratometry", "fogged to six twelve"])  # fmt: skip
def test_it_answers_nothing_and_is_never_taken_for_yes(line: str, lines: str) -> None:
    typist = typed(lines)
    asked = typist.state.question
    assert asked is not None

    answer = typist.type(line)

    assert typist.state.question == asked
    assert "'yes'" not in answer.reply


def test_nothing_that_shares_no_word_with_a_line_is_offered_for_it() -> None:
    """ "Duochrome equal" was once answered with: did you mean 'yes'?"""
    for line in ("duochrome", "over refraction", "balance", "retinal camera"):
        assert "did you mean 'yes'" not in typed(HEAD).type(line).reply


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("keratometry 20 at 90", "a keratometry reading of 20 D is not within 30 to 62 D: say it again"),
        ("keratometry 4 at 90", "a keratometry reading of 4 mm is not within 5.44 to 11.25 mm: say it again"),
        ("keratometry 43.50 44.25", "along which meridians? say the readings with them"),
        ("keratometry 43 at 90 44 at 90", "both readings are of one meridian: say them again"),
        ("keratometry 43 at 180 7.6 at 90", "a keratometry reading of 7.6 D is not within 30 to 62 D: say it again"),
        ("keratometry 43 at 190", "meridian 190 is not within 1 to 180 degrees: say it again"),
        ("hyper 3", "hyper of which eye? say it again with the eye"),
        ("exo 150", "a deviation of 150 prism dioptres is not within 0.25 to 100 prism dioptres: say it again"),
        ("90 base in", "a prism of 90 prism dioptres is not within 0.25 to 50 prism dioptres: say it again"),
        ("fogged minus one", "a fog of -1.00 is minus: is it right?"),
        ("cross cylinder axis 190", "axis 190 is not within 1 to 180 degrees: say it again"),
        ("acuity right 200 cycles per degree",
         "an acuity of 200 cycles per degree is not within 0.1 to 60 cycles per degree: say it again"),
        ("43.50 at 90", None),
        ("+43.50 at 90", None),
    ],
)  # fmt: skip
def test_what_cannot_be_is_asked(line: str, asked: str | None) -> None:
    typist = typed("right eye\nworking distance 50")

    answer = typist.type(line)

    assert answer.outcome == "asked"
    assert answer.acts == ()
    assert asked in (None, answer.reply)


# Published pairs of radius and power at the keratometric index 1.3375: 7.50 mm is 45.00 D by the choice of that index
# (American Journal of Ophthalmology 2002, comments on corneal power); 7.80 mm is 43.27 D (a public calculator's example).
@pytest.mark.parametrize(("radius_mm", "power_d"), [(7.50, 45.00), (7.80, 43.27)])
def test_radius_and_power_of_the_cornea_as_published(radius_mm: float, power_d: float) -> None:
    entry = KeratometryEntry(eye="right", unit="mm", one=radius_mm)

    assert entry.power_d(radius_mm) == pytest.approx(power_d, abs=0.005)
    assert KeratometryEntry(eye="right", unit="dioptres", one=power_d).radius_mm(power_d) == pytest.approx(
        radius_mm, abs=0.005
    )
    assert KERATOMETRIC_D_MM == 337.5


def test_a_keratometry_is_no_lens_power() -> None:
    state = typed(f"{HEAD}\nkeratometry 43.50 at 180 44.25 at 90").state
    (entry,) = (found for _, found in state.findings.of(KeratometryEntry))

    assert not isinstance(entry, ReadingEntry | WorkingLensEntry)
    assert [each.part for each in entry.quantities()] == [
        *("corneal-power", "radius", "meridian", "other-corneal-power", "other-radius", "other-meridian")
    ]


@pytest.mark.parametrize(
    ("line", "reply"),
    [
        ("keratometry flat 43.50 at 180 steep 44.25 at 90", "keratometry 43.50 D (7.76 mm) at 180, 44.25 D (7.63 mm) at 090"),
        ("k steep 7.6 at 90 flat 7.8 at 180", "keratometry 7.60 mm (44.41 D) at 090, 7.80 mm (43.27 D) at 180"),
        ("keratometry flat 43 steep 44 at 90", "keratometry 43.00 D (7.85 mm), 44.00 D (7.67 mm) at 090"),
    ],
)  # fmt: skip
def test_flat_and_steep(line: str, reply: str) -> None:
    answer = typed(HEAD).type(line)

    assert (answer.outcome, answer.reply) == ("accepted", f"right eye: {reply}")


@pytest.mark.parametrize(
    "line", ["keratometry flat 44 at 180 steep 43 at 90", "k steep 7.8 at 90 flat 7.6 at 180"]
)
def test_flat_is_never_steeper_than_steep(line: str) -> None:
    answer = typed(HEAD).type(line)

    assert answer.outcome == "asked"
    assert "is steeper than" in answer.reply


def test_meridians_of_the_cornea_far_from_right_angles_are_asked_about() -> None:
    """ "At one seventy" was heard as "at seventy"."""
    typist = typed(HEAD)

    assert (
        typist.type("keratometry 7.8 at 70 7.6 at 80").reply
        == "meridians 070 and 080 are 10 degrees apart: is it right?"
    )
    assert typist.type("yes").outcome == "accepted"
    assert typed(HEAD).type("keratometry 7.8 at 170 7.6 at 95").outcome == "accepted"


@pytest.mark.parametrize("line", ["keratometry 43 at 180 44 at 90", "fogged plus one", "3 base in", "exo 4"])
@pytest.mark.parametrize("bare", ["correction 44.50", "correction plus one fifty", "no, minus"])
def test_a_bare_correction_behind_it_asks_before_it_changes_what_was_before(line: str, bare: str) -> None:
    typist = typed(f"{HEAD}\n{line}")

    answer = typist.type(bare)

    assert answer.outcome == "asked"
    assert answer.acts == ()


@pytest.mark.parametrize(
    ("lines", "reply"),
    [
        ("duochrome red\nend point reached\ncorrection duochrome green", "right eye: duochrome green clearer"),
        ("cross cylinder axis 85\ncross cylinder power minus one", "right eye: cross cylinder -1.00 axis 085"),
        ("fogged plus one\ncorrection fogged plus two", "right eye: fogged +2.00"),
        ("keratometry 43 at 180\ncorrection keratometry 44 at 180", "right eye: keratometry 44.00 D (7.67 mm) at 180"),
        ("exo 4 near\nexo 2 distance\ncorrection near exo 6", "both eyes: cover test, near, 6 prism dioptres exo"),
        ("3 base in\ncorrection prism 4 base in", "right eye: prism 4 prism dioptres base in"),
    ],
)  # fmt: skip
def test_it_is_put_right_by_its_name(lines: str, reply: str) -> None:
    typist = typed(f"{HEAD}\n{lines}")

    assert typist.lines[-1].reply.startswith(f"{reply}, instead of ")
    assert typist.state.eyes["right"].readings == typed(HEAD).state.eyes["right"].readings
