"""The scripted examiner asks which lens is next and does it: the eye is found, by the plain result too, in fewer looks."""

import pytest

from tests.practice.exams import principal_difference_d
from tests.some import some
from voicelog.exam.advising import advised_look, belief_of
from voicelog.exam.state import EyeState
from voicelog.practice.examiner import Examiner, Plan
from voicelog.practice.exercise import TECHNIQUES, Technique
from voicelog.practice.eye import EyeModel, Glimpse, SimulatedEye, random_refraction
from voicelog.session import Session
from voicelog.settings import Settings

NOT_ENTERED = ("which lens next",)


def followed(seed: int, technique: Technique) -> tuple[EyeState, list[str], str]:
    """The eye as it was logged, the lines that were not entered, and the last answer to "which lens next"."""
    session, refused, last = Session(Settings()), [], ""
    examiner = Examiner(
        SimulatedEye(EyeModel(random_refraction(seed)), seed),
        Plan(technique, "streak"),
        seed=seed,
        advice=lambda: advised_look(session.state, "right"),
    )
    for line in examiner.lines():
        said = session.type_line(line)
        if line in NOT_ENTERED:
            last = said.reply
        elif said.outcome != "accepted":
            refused.append(line)
    return session.state.eyes["right"], refused, last


@pytest.mark.parametrize("technique", TECHNIQUES)
@pytest.mark.parametrize("seed", [2, 3])
def test_an_eye_is_found_by_doing_what_the_log_advises(seed: int, technique: Technique) -> None:
    eye, refused, last = followed(seed, technique)
    truth = random_refraction(seed)

    assert refused == []
    assert last.startswith("right eye: enough, both meridians within a quarter, 95 %")
    assert eye.status == "solved"
    assert principal_difference_d(some(eye.solution.net), truth) <= 0.25
    found = belief_of(eye).estimate
    assert all(abs(found.power_along_d(meridian) - power) <= 0.25 for meridian, power in truth.power_cross())
    assert len(eye.readings) <= 22


def test_every_look_is_told() -> None:
    """Looks that find the band and looks again at the same lens apart: no lens is looked through in silence."""
    seen: list[Glimpse] = []
    session = Session(Settings())
    examiner = Examiner(
        SimulatedEye(EyeModel(random_refraction(2)), 2),
        Plan("spheres", "streak"),
        on_look=seen.append,
        advice=lambda: advised_look(session.state, "right"),
    )
    counts = []
    for line in examiner.lines():
        session.type_line(line)
        counts.append(len(session.state.eyes["right"].readings))
    told = {each.gross_d for each in session.state.eyes["right"].readings}

    assert counts[-1] >= 10
    assert {look.lenses.sphere_d for look in seen[-3 * counts[-1] :]} <= told
