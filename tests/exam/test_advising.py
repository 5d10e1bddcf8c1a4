"""What all looks say and which look is next, asked for in an exam: beside the plain result, never instead of it."""

import re

import pytest

from tests.exam.typing import Typist, typed
from voicelog.exam.advising import all_looks_words, belief_of, is_net, step_words
from voicelog.optics import SpheroCylinder, meridian_to_streak_deg
from voicelog.practice.eye import EyeModel, SimulatedEye
from voicelog.practice.reflex import Retinoscope
from voicelog.session import Session
from voicelog.settings import Settings

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
        ("what next", "no eye was named yet"),
        (PAIR + "what next", r"right eye: streak \w+ \(power along \d{3}\), sphere \S+"),
        (PAIR + "what should i do next", r"right eye: streak \w+ \(power along \d{3}\), sphere \S+"),
        ("right eye\nneutral at +3\nwhat's next", r"which meridian.*\?; right eye: streak \w+ .*"),
        (
            PAIR + "streak 90 neutral at +3\nstreak 180 neutral at +2\n" * 8 + "what next",
            r"right eye: enough, both meridians within a quarter, 95 %: .*; left eye: nothing read yet",
        ),
        ("estimate so far", "nothing read yet"),
        (PAIR + "what lens next for the left eye", r"left eye: streak \w+ \(power along \d{3}\), sphere \S+"),
        (
            PAIR + "what do all the looks say",
            r"right eye: about \+1\.00 ± 0\.\d -1\.00 ± 0\.\d x 180 ± \d+, from 2 looks, "
            r"streak along the band; known before: nothing",
        ),
        (PAIR + "streak 180 against at -4\nestimate so far", r".*; does not fit: .*"),
        (
            "right eye\nstreak 90 neutral at +3\nstreak 180 neutral at +2\nestimate so far",
            r"right eye: about \+3\.00 .*, gross, from .*",
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


def test_every_look_is_answered_with_the_next_where_that_is_set() -> None:
    """Behind looks alone, in lenses of the own set, and unasked never."""
    advised, plain = (
        Session(Settings(advise=wanted, spheres_d=(2.0,), cylinders_d=(1.0,))) for wanted in (True, False)
    )
    lines = ("right eye", "working distance 67", "streak 90 with at plus 1", "streak 90 against at plus 3")
    told = [(advised.type_line(line).reply, plain.type_line(line).reply) for line in lines]

    assert [one == other for one, other in told] == [True, True, False, False]
    for one, other in told[2:]:
        found = re.fullmatch(rf"{re.escape(other)}; next: {ADVICE.pattern}", one)
        assert found is not None, one
        assert (0.0 if found["sphere"] == "plano" else float(found["sphere"])) % 2.0 == 0.0
    assert advised.state.eyes["right"].solution == plain.state.eyes["right"].solution


def test_a_look_that_is_asked_about_brings_no_advice() -> None:
    session = Session(Settings(advise=True))
    session.type_line("right eye")

    assert "next:" not in session.type_line("neutral at plus 1").reply


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


def test_only_lenses_of_the_own_set_are_named() -> None:
    """Between +0.50 and +3.00 the usual set would be asked for +1.75; a set of twos makes only 0, 2, 4 and 6."""
    session = Session(Settings(spheres_d=(2.0,), cylinders_d=(1.0,)))
    for line in ("right eye", "streak 90 with at plus 0.5", "streak 90 against at plus 3"):
        session.type_line(line)

    told = session.type_line("which lens next").reply

    found = re.search(r"sphere ([+-]\d+\.\d\d|plano)", told)
    assert found is not None, told
    assert (0.0 if found[1] == "plano" else float(found[1])) % 2.0 == 0.0


def test_how_likely_each_step_is_adds_up_and_names_the_truth_first() -> None:
    lines = "working distance 50\nright eye\nstreak 90 with at +2.5\nstreak 90 neutral at +3\nstreak 90 against at +3.5"
    _, state = typed(f"{lines}\nstreak 180 neutral at +2")

    along = step_words(state.eyes["right"], least=0.0)

    assert [told.partition(":")[0] for told in along] == ["along 090", "along 180"]
    # The streak at 90 measures along 180: +3 less 2.
    assert re.match(r"along 180: \+1\.00 \(\d+ %\)", along[1])
    for told in along:
        assert sum(int(share) for share in re.findall(r"(\d+) %", told)) == pytest.approx(
            100, abs=6
        )  # each is rounded


LOOKED = "right eye\nstreak 90 with at +2.5\nstreak 90 against at +3.5\nstreak 180 neutral at +2"


@pytest.mark.parametrize(
    ("distance", "net", "along_180_d"),
    [("", False, 3.0), ("working distance 50\n", True, 1.0)],
)
def test_what_all_looks_say_is_gross_until_a_distance_is_known(
    distance: str, net: bool, along_180_d: float
) -> None:
    """With at +2.50 and against at +3.50: between them lies +3.00 gross, which is +1.00 from 50 cm."""
    eye = typed(f"{distance}{LOOKED}")[1].eyes["right"]

    assert is_net(eye) is net
    assert (", gross, from " in all_looks_words(eye)) is not net
    assert belief_of(eye).estimate.power_along_d(180) == pytest.approx(along_180_d, abs=0.3)


def test_looks_from_before_the_distance_do_not_make_it_gross() -> None:
    """Those with a distance are then taken alone, and what they say is net."""
    later = "working distance 50\nstreak 90 with at +2.5\nstreak 90 against at +3.5"
    eye = typed(f"{LOOKED}\n{later}")[1].eyes["right"]

    assert is_net(eye)
    assert " gross" not in all_looks_words(eye)
