"""Lessons typed line by line: what is answered, what is counted, what the first mistake was."""

from collections.abc import Iterator
from typing import Any

import pytest

from tests.english import ENGLISH, load
from tests.session.test_session import hearing
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Hearing, Hypothesis
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.optics import SpheroCylinder, difference
from voicelog.phrases.lines import LineReader
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel, parse_refraction
from voicelog.practice.judging import judge
from voicelog.practice.lesson import NOT_CLEAR, Answer, Lesson
from voicelog.practice.report import as_data, in_words
from voicelog.settings import Settings

# Half a metre: the allowance is 2.00 D. The eye's neutral lenses by hand: along 180 (streak 90) -0.50 + 2.00 = +1.50,
# along 90 (streak 180) +1.25 + 2.00 = +3.25.
TRUTH = "+1.25 -1.75 x 90"
HEAD = ("right eye", "working distance 50")
RIGHT = ("streak 90 neutral at +1.50", "streak 180 neutral at +3.25")


def lesson(naming: str = "streak", distance_cm: float | None = None, **changes: Any) -> Lesson:
    """A lesson with that eye at half a metre."""
    model = EyeModel(parse_refraction(changes.pop("truth", TRUTH)), **changes.pop("model", {}))
    exercise = Exercise(model, 1, distance_cm=50.0, **changes)
    settings = Settings(naming=naming, working_distance_cm=distance_cm)  # type: ignore[arg-type]
    ticks = iter(range(1000))
    return Lesson(exercise, settings, clock=lambda: float(next(ticks)))


def taught(lines: Iterator[str] | tuple[str, ...], **changes: Any) -> Lesson:
    """A lesson in which the lines were typed."""
    one = lesson(**changes)
    for line in lines:
        one.type_line(line)
    return one


def mistake(*lines: str, **changes: Any) -> tuple[str, int | None]:
    """Code and entry of the first mistake."""
    one = taught(lines, **changes)
    found = judge(one.exercise, one.state).mistake
    assert found is not None
    return found.code, found.entry


def test_every_lens_is_answered_by_the_reflex() -> None:
    one = taught(HEAD)
    answers = [
        one.type_line(line) for line in ("streak vertical", "sphere +1.00", "sphere +2.00", "sphere +1.50")
    ]

    assert [each.glimpse.reflex.motion for each in answers if each.glimpse] == [
        "with",
        "with",
        "against",
        "neutral",
    ]
    assert answers[0].said is not None
    assert answers[0].said.reply == "right eye: streak vertical (power along 180)"
    assert answers[1].said is not None
    assert "with motion" in answers[1].seen
    assert "no motion" in answers[3].seen


def test_nearer_to_neutral_the_reflex_is_told_faster() -> None:
    one = taught((*HEAD, "streak vertical"))
    far, near = (one.type_line(line).glimpse for line in ("sphere -5.00", "sphere +1.25"))

    assert far is not None
    assert near is not None
    assert far.reflex.speed < near.reflex.speed


def test_the_right_lesson_has_no_mistake() -> None:
    one = taught((*HEAD, *RIGHT))
    found = judge(one.exercise, one.state)

    assert found.mistake is None
    assert found.close
    assert found.found == parse_refraction(TRUTH)
    assert found.difference == difference(parse_refraction(TRUTH), parse_refraction(TRUTH))


def test_a_correction_in_time_is_no_mistake() -> None:
    one = taught((*HEAD, "streak 90 neutral at -1.50", "correction plus one fifty", RIGHT[1]))

    assert judge(one.exercise, one.state).mistake is None


@pytest.mark.parametrize(
    ("lines", "code", "entry"),
    [
        ((*HEAD, "streak 90 neutral at -1.50", RIGHT[1]), "sign", 3),
        ((*HEAD, "streak 90 neutral at +3.25", "streak 180 neutral at +1.50"), "turned_by_90", 3),
        ((*HEAD, "vertical neutral at +3.25", "horizontal neutral at +1.50"), "other_habit", 3),
        ((*HEAD, RIGHT[0], "streak 180 neutral at +1.25"), "allowance_taken_twice", 4),
        ((*HEAD, RIGHT[0], "streak 180 neutral at +5.25"), "allowance_forgotten", 4),
        ((*HEAD, "working lens in", *RIGHT), "allowance_forgotten", 4),
        ((*HEAD, RIGHT[0], "streak 180 neutral at +2.50"), "stopped_early", 4),
        ((*HEAD, "streak 90 with at +2.50", *RIGHT), "motion", 3),
        (("right eye", "working distance 67", *RIGHT), "distance", None),
        (("left eye", "working distance 50", *RIGHT), "wrong_eye", None),
        ((*HEAD, RIGHT[0]), "unfinished", None),
        ((), "unfinished", None),
        (
            (
                *HEAD,
                "streak 180 neutral with sphere +3.25",
                "streak 90 neutral with cylinder -1.75 axis 180",
                "yes",
            ),
            "cylinder_turned_by_90",
            5,
        ),
    ],
)
def test_the_first_mistake(lines: tuple[str, ...], code: str, entry: int | None) -> None:
    assert mistake(*lines) == (code, entry)


def test_the_working_lens_in_the_frame_and_not_told() -> None:
    """Lens in: the frame's neutral lenses are the net ones; the log takes another 2.00 D off."""
    net = ("streak 90 neutral at -0.50", "streak 180 neutral at +1.25")

    assert mistake(*HEAD, *net, lens_in=True) == ("allowance_taken_twice", 3)
    one = taught((*HEAD, "working lens in", *net), lens_in=True)
    assert judge(one.exercise, one.state).mistake is None


def test_a_concave_mirror_that_was_not_told() -> None:
    seen = ("streak 90 against at +1.00", *RIGHT)

    assert mistake(*HEAD, *seen, concave_mirror=True) == ("mirror", 3)
    one = taught((*HEAD, "mirror concave", *seen), concave_mirror=True)
    assert judge(one.exercise, one.state).mistake is None


def test_an_axis_missed_by_the_streak() -> None:
    """+1.00 -3.00 x 30 read at streaks 90 and 180: each reading is true there, the two do not make the eye."""
    truth = SpheroCylinder(1.0, -3.0, 30.0)
    readings = [
        f"streak {streak} neutral at {truth.power_along_d(meridian) + 2.0:+.2f}"
        for streak, meridian in ((90, 180.0), (180, 90.0))
    ]

    assert mistake(*HEAD, *readings, truth="+1.00 -3.00 x 30") == ("axis", None)


@pytest.mark.parametrize("code", ["sign", "axis"])
def test_mistakes_are_told_in_one_sentence(code: str) -> None:
    one = taught((*HEAD, "streak 90 neutral at -1.50", RIGHT[1]) if code == "sign" else (*HEAD, "streak 45"))
    words = list(in_words(one))

    assert words[-1].startswith("The first mistake: ")
    assert words[-1].endswith(".")
    assert all("\n" not in line for line in words)


def test_lenses_and_time_are_counted() -> None:
    one = taught(
        (*HEAD, "streak vertical", "sphere +1", "look", "sphere +1.50", "streak horizontal", "sphere +3")
    )
    one.type_line("done")
    data = as_data(one)

    assert data["lenses"] == 3
    assert one.ended
    assert data["seconds"] == 1.0
    assert one.type_line("look").ended is False
    assert as_data(one)["seconds"] == 1.0


def test_a_place_is_laid_by_streak_or_by_meridian_and_bare_by_the_habit() -> None:
    def streak(line: str, naming: str) -> float:
        glimpse = lesson(naming=naming).type_line(line).glimpse
        assert glimpse is not None
        return glimpse.streak_deg

    assert streak("streak vertical", "meridian") == 90.0
    assert streak("meridian 180", "streak") == 90.0
    assert streak("vertical", "streak") == 90.0
    assert streak("vertical", "meridian") == 180.0
    assert streak("Streak 35 ", "streak") == 35.0


def test_without_a_streak_the_learner_is_told_to_lay_it() -> None:
    one = taught(HEAD)

    assert "lay the streak first" in one.type_line("sphere +1.00").text
    assert "lay the streak first" in one.type_line("look").text
    assert "right eye" in one.type_line("hint").text
    assert one.glimpses == []


def test_what_is_taken_back_is_looked_at_again() -> None:
    one = taught((*HEAD, "streak vertical", "sphere +1.50", "sphere +5.00"))
    answer = one.type_line("scratch that")

    assert answer.glimpse is not None
    assert answer.glimpse.reflex.motion == "neutral"


def test_hints_follow_what_was_seen() -> None:
    one = taught((*HEAD, "streak vertical"))

    assert "more plus" in one.type_line("hint").text
    one.type_line("sphere +3.00")
    assert "more minus" in one.type_line("hint").text
    one.type_line("sphere +1.50")
    told = one.type_line("hint").text
    assert told == "this is neutrality: log it, as in: streak 90 neutral"
    said = one.type_line("streak 90 neutral").said
    assert said is not None
    assert said.outcome == "accepted"
    one.type_line("streak 60")
    assert "lay it along the band" in one.type_line("hint").text


def test_the_hint_minds_the_mirror() -> None:
    one = taught((*HEAD, "streak vertical", "sphere +1"), concave_mirror=True)

    assert one.glimpses[-1].reflex.motion == "against"
    assert "more plus" in one.type_line("hint").text


def test_nonsense_and_bad_places_are_answered_and_enter_nothing() -> None:
    one = taught(HEAD)

    assert "not understood" in one.type_line("nonsense").said.reply  # type: ignore[union-attr]
    assert "1 to 180" in one.type_line("streak 270").said.reply  # type: ignore[union-attr]
    assert one.state.eyes["right"].status == "empty"


def test_the_other_eye_is_pointed_out() -> None:
    assert "right one" in lesson().type_line("left eye").text


def heard(text: str, log: float = -1.0) -> Hearing:
    """What an engine hears of a line, by the lesson's rule."""
    return hearing(text, log)


def test_spoken_entries_and_places() -> None:
    one = taught(HEAD)
    place = hearing_of_place("streak vertical")
    answers: list[Answer] = [one.take_heard(place), one.take_heard(heard("sphere plus one"))]

    assert [each.glimpse.streak_deg for each in answers if each.glimpse] == [90.0, 90.0]
    assert [turn.text for turn in one.turns[-2:]] == ["streak vertical", "sphere plus one"]
    assert one.take_heard(heard("stop listening")).ended


def test_an_unsure_place_is_asked_for_again_and_other_talk_leaves_no_trace() -> None:
    one = taught(HEAD[1:])  # no eye is named: the streak is laid, and the log told nothing
    before = len(one.turns)

    assert "say the streak again" in one.take_heard(hearing_of_place("streak vertical", -20.0)).text.lower()
    assert one.glimpses == []
    assert len(one.turns) == before + 1
    one.take_heard(Hearing("script", (), "how was your holiday", -1.0, 0.0))
    assert len(one.turns) == before + 1


def hearing_of_place(text: str, log: float = -1.0) -> Hearing:
    """A place alone, as the rule of practice hears it."""
    meanings = LineReader(load(), f"{EXAM_RULES} loose_where").understand(text).readings[0]
    return Hearing("script", (Hypothesis(text, meanings, log),), text, -0.5, 0.0)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tell me what i see", "with motion"),
        ("tell me", "with motion"),
        ("give me a hint", "asks for more plus"),
        ("look again", ""),
    ],
)
@pytest.mark.parametrize("typed", [True, False])
def test_what_is_to_be_seen_is_told_when_it_is_asked_for(text: str, expected: str, typed: bool) -> None:
    """By voice as by hand; the log hears nothing of it."""
    made = taught((*HEAD, "streak vertical", "sphere -3"))
    looks, events = len(made.glimpses), len(made.state.events)
    if typed:
        answer = made.type_line(text)
    else:
        reader = LineReader(load(), "lesson")
        (meanings,) = reader.understand(text).readings
        answer = made.take_heard(Hearing("script", (Hypothesis(text, meanings, -1.0),), text, -1.0, 0.0))

    assert "lesson" in made.listened_for.split()
    assert expected in answer.text
    assert answer.told == text.startswith("tell")
    assert len(made.glimpses) == looks + (text == "look again")
    assert len(made.state.events) == events


def test_an_order_that_was_heard_with_doubt_is_not_obeyed_and_talk_is_not_heard() -> None:
    made = taught((*HEAD, "streak vertical"))
    turns = len(made.turns)
    (meanings,) = LineReader(load(), "lesson").understand("give me a hint").readings
    for log, outcome in ((-8.0, "asked"), (-40.0, "ignored")):
        heard = Hearing("script", (Hypothesis("give me a hint", meanings, log),), "give me a pint", -1.0, 0.0)
        assert decide(heard, ENGLISH) == outcome
        made.take_heard(heard)

    assert [turn.answer.text for turn in made.turns[turns:]] == [NOT_CLEAR]
