"""What all looks say and which look is next, asked for in an exam: beside the plain result, never instead of it."""

import re

import pytest

from tests.exam.typing import Typist, typed
from voicelog.exam.advising import belief_of
from voicelog.optics import SpheroCylinder, meridian_to_streak_deg
from voicelog.practice.eye import EyeModel, SimulatedEye
from voicelog.practice.reflex import Retinoscope

HEAD = "right eye\nworking distance 50\n"
PAIR = f"{HEAD}streak 90 neutral at +3\nstreak 180 neutral at +2\n"
ADVICE = re.compile(r"right eye: streak \w+ \(power along (?P<meridian>\d{3})\), sphere (?P<sphere>\S+)")


def reply(lines: str) -> str:
    """What is answered to the last line."""
    return typed(lines)[0][-1].reply


@pytest.mark.parametrize(
    ("lines", "answer"),
    [
        ("which lens next", "no eye was named yet"),
        ("estimate so far", "nothing read yet"),
        (PAIR + "what lens next for the left eye", r"left eye: streak \w+ \(power along \d{3}\), sphere \S+"),
        (
            PAIR + "what do all the looks say",
            r"right eye: about \+1\.00 ± 0\.\d -1\.00 ± 0\.\d x 180 ± \d+ by nothing known of the eye; "
            r"2 looks, the streak along the band",
        ),
        (PAIR + "streak 180 against at -4\nestimate so far", r".*; does not fit: .*"),
        (
            "right eye\nstreak 90 neutral at +3\nstreak 180 neutral at +2\nestimate so far",
            r"right eye: about \+3\.00 .* gross by .*",
        ),
        (
            PAIR + "technique two cylinders\nwhich lens next",
            r"right eye: .*, cylinder \+[23]\.\d\d axis \d{3}",
        ),
    ],
)
def test_answers(lines: str, answer: str) -> None:
    assert re.fullmatch(answer, reply(lines)), reply(lines)


def test_asking_enters_nothing_and_changes_no_result() -> None:
    plain, asked = Typist(), Typist()
    for line in PAIR.splitlines():
        plain.type(line)
        asked.type(line)
        asked.type("which lens next")
        asked.type("estimate so far")

    assert [line.acts for line in asked.lines if line.text in ("which lens next", "estimate so far")] == [
        ()
    ] * 8
    assert asked.state.eyes["right"].result == plain.state.eyes["right"].result
    assert asked.state.eyes["right"].status == plain.state.eyes["right"].status


def test_a_speed_word_narrows_the_belief() -> None:
    _, slow = typed(f"{HEAD}streak 90 slow with at +1\n")
    _, plain = typed(f"{HEAD}streak 90 with at +1\n")

    assert belief_of(slow.eyes["right"]).estimate.m_d > belief_of(plain.eyes["right"]).estimate.m_d


def test_an_eye_is_found_by_asking_which_lens_is_next() -> None:
    eye = SpheroCylinder(-2.5, -1.25, 180)
    simulated = SimulatedEye(EyeModel(eye, noise_d=0.2), seed=1)
    typist = Typist()
    for line in HEAD.splitlines():
        typist.type(line)
    for _ in range(60):
        answer = typist.type("which lens next").reply
        told = ADVICE.fullmatch(answer)
        if told is None:
            break
        sphere = 0.0 if told["sphere"] == "plano" else float(told["sphere"])
        streak = meridian_to_streak_deg(int(told["meridian"]))
        seen = simulated.look(SpheroCylinder(sphere).vector, streak, Retinoscope(0.5)).motion
        motion = "with" if seen == "still" and sphere < 0 else "against" if seen == "still" else seen
        typist.type(f"streak {streak:g} {motion} at {told['sphere']}")

    assert answer.startswith("right eye: enough, both meridians within a quarter, 95 %: ")
    found = belief_of(typist.state.eyes["right"]).estimate
    assert abs(found.power_along_d(180) - eye.vector.power_along_d(180)) <= 0.3
    assert abs(found.power_along_d(90) - eye.vector.power_along_d(90)) <= 0.3
