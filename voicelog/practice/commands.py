"""`voicelog practice`: sets the exercise, takes typed or spoken lines, shows the reflex, compares at the end."""

import argparse
from collections.abc import Callable, Iterable
from random import SystemRandom

from voicelog.hearing.engines.protocol import Engine
from voicelog.practice.arguments import SEEDS
from voicelog.practice.arguments import exercise as exercise_of
from voicelog.practice.examiner import Examiner, Plan
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import Glimpse
from voicelog.practice.lesson import Lesson
from voicelog.practice.shown import Shown
from voicelog.practice.voice import spoken
from voicelog.settings import Settings


def set_exercise(options: argparse.Namespace, settings: Settings) -> Exercise:
    """The exercise of the options, with a new seed where none was given. Raises PracticeError."""
    seed = SystemRandom().randrange(SEEDS) if options.seed is None else options.seed
    return exercise_of(options, settings, seed)


def run(
    options: argparse.Namespace, settings: Settings, lines: Iterable[str], engine: Callable[[], Engine]
) -> None:
    """Set the exercise that the options name, and hold the lesson.

    Raises PracticeError for options that cannot be, and what the microphone raises.
    """
    exercise = set_exercise(options, settings)
    if options.watch:
        watched(exercise, settings, as_json=options.json)
    elif options.voice:
        spoken(
            Lesson(exercise, settings),
            engine(),
            device=options.device,
            recording=options.source,
            as_json=options.json,
        )
    else:
        typed(exercise, settings, lines, as_json=options.json)


def typed(exercise: Exercise, settings: Settings, lines: Iterable[str], *, as_json: bool) -> Lesson:
    """Take typed lines until they end or one says so, then compare."""
    lesson = Lesson(exercise, settings)
    show = Shown(lesson, as_json=as_json)
    show.beginning()
    for line in lines:
        answer = lesson.type_line(line)
        if answer.ended:
            break
        show.answer(answer)
        show.prompt()
    show.end()
    return lesson


def watched(exercise: Exercise, settings: Settings, *, as_json: bool) -> Lesson:
    """The scripted examiner at work on the same exercise: every look and every line."""
    lesson = Lesson(exercise, settings)
    show = Shown(lesson, as_json=as_json)
    show.head()

    def looked(glimpse: Glimpse) -> None:
        if not lesson.glimpses or _view(lesson.glimpses[-1]) != _view(glimpse):
            show.glance(glimpse)
        lesson.glimpses.append(glimpse)

    plan = Plan(
        exercise.technique, settings.naming, settings.cylinder_form, exercise.distance_cm, exercise.lens_in
    )
    examiner = Examiner(lesson.eye, plan, seed=exercise.seed, eye_name=exercise.eye, on_look=looked)
    for line in examiner.lines():
        said = lesson.session.type_line(line)
        show.line(f"says: {line}" if said.outcome == "accepted" else f"says: {line} ({said.reply})")
    show.end()
    return lesson


def _view(glimpse: Glimpse) -> tuple[object, ...]:
    return (glimpse.lenses, glimpse.streak_deg, glimpse.reflex.motion)
