"""What is missing for the technique in use, and the reminders of those who want them."""

import pytest

from tests.exam.typing import Typist, typed
from voicelog.exam.protocol import NO_REMINDERS, Reminders, still_missing

ONE_MERIDIAN = "right eye\nworking distance 50\nstreak 90 neutral at plus one"


def missing(lines: str) -> str:
    """The answer to "what is missing" behind these lines."""
    return typed(f"{lines}\nwhat is missing")[0][-1].reply


@pytest.mark.parametrize(
    ("technique", "next_step"),
    [
        ("two spheres", "next neutralise meridian 090, with a sphere alone"),
        ("sphere and cylinder", "next neutralise meridian 090, leaving the sphere, with a cylinder axis 180"),
        ("two cylinders", "next neutralise meridian 090, with a cylinder axis 180"),
    ],
)
def test_the_next_step_is_that_of_the_technique(technique: str, next_step: str) -> None:
    """The streak lies along the cylinder's axis and across the meridian (facts of the trade, 0.2)."""
    assert next_step in missing(f"technique {technique}\n{ONE_MERIDIAN}")
    assert "next neutralise" not in missing(ONE_MERIDIAN)


@pytest.mark.parametrize(
    ("technique", "lines", "told"),
    [
        ("two spheres", "streak 180 neutral with cylinder -1 axis 180", "a cylinder was before it"),
        ("sphere and cylinder", "streak 180 neutral at plus two", "no cylinder was used"),
        ("two cylinders", "streak 180 neutral with cylinder -1 axis 180", "a sphere was before it"),
    ],
)
def test_other_lenses_than_the_technique_s_are_told(technique: str, lines: str, told: str) -> None:
    assert told in missing(f"technique {technique}\n{ONE_MERIDIAN}\n{lines}")
    assert told not in missing(f"{ONE_MERIDIAN}\n{lines}")


def test_nothing_is_said_unasked() -> None:
    answers, _ = typed(f"technique two spheres\n{ONE_MERIDIAN}\nstreak 180 neutral with cylinder -1 axis 180")

    assert all("technique is" not in each.reply and "next" not in each.reply for each in answers[1:])


def test_a_whole_exam_misses_nothing() -> None:
    both = "\n".join(
        f"{eye} eye\nstreak 90 neutral at plus one\nstreak 180 neutral at plus two"
        for eye in ("right", "left")
    )

    assert missing(f"working distance 50\ntechnique two spheres\n{both}") == "nothing is missing"


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("right eye\nrefined cylinder minus one axis 90", "asked: and the sphere?"),
        ("streak 90 neutral at plus one\nstreak 180 with at plus two", "waits: streak horizontal (180) with"),
        ("drops tropicamide both eyes", "drops tropicamide: the strength was not said"),
        ("pupils distance right 31", "pupillary distance far: only one half was said"),
        ("right eye\nstreak 90 neutral at 2.25", "asked: 2.25: plus or minus?"),
        ("right eye\nstreak 90 neutral at plus two", "right eye: the working distance was not said"),
        ("right eye", "left eye: nothing read yet"),
    ],
)
def test_unfinished_findings_are_told(lines: str, told: str) -> None:
    assert told in missing(lines)


def replies(lines: str, reminders: Reminders = NO_REMINDERS) -> list[str]:
    """The replies to lines, with reminders as wanted."""
    typist = Typist(distance_cm=50, reminders=reminders)
    return [typist.type(line).reply for line in lines.splitlines()]


BOTH_EYES = """right eye
streak 90 neutral at plus one
streak 180 neutral at plus two
right eye
left eye
streak 90 neutral at plus one
streak 180 neutral at plus two"""


def test_a_new_eye_reminds_of_fogging_where_that_is_wanted() -> None:
    wanted = replies(BOTH_EYES, Reminders(fogging=True))

    assert wanted[0] == "right eye; is the left eye fogged?"
    assert wanted[3] == "right eye"
    assert wanted[4] == "left eye; is the right eye fogged?"
    assert not any("fogged" in reply for reply in replies(BOTH_EYES))


def test_a_finished_eye_reminds_of_the_other_once_where_that_is_wanted() -> None:
    wanted = replies(BOTH_EYES, Reminders(fellow_eye=True))

    assert [number for number, reply in enumerate(wanted) if "still to come" in reply] == [2]
    assert wanted[2].endswith("; the left eye is still to come")
    assert not any("still to come" in reply for reply in replies(BOTH_EYES))


def test_reminders_change_no_entry() -> None:
    typist = Typist(distance_cm=50, reminders=Reminders(fogging=True, fellow_eye=True))
    for line in BOTH_EYES.splitlines():
        typist.type(line)
    plain = Typist(distance_cm=50)
    for line in BOTH_EYES.splitlines():
        plain.type(line)

    assert typist.state.ledger.live == plain.state.ledger.live
    assert still_missing(typist.state) == still_missing(plain.state) == ()
