"""A lesson done by the scripted examiner, scene by scene: what it sees, what it says, and what the log answers."""

from collections.abc import Iterator
from dataclasses import dataclass

from voicelog.exam.advising import advised_look
from voicelog.exam.events import Line
from voicelog.practice.examiner import Examiner, Plan
from voicelog.practice.eye import Glimpse
from voicelog.practice.lesson import Lesson


@dataclass(frozen=True, slots=True)
class Scene:
    """A look, or a line that was said with what the log made of it."""

    glimpse: Glimpse | None = None
    text: str = ""
    said: Line | None = None


def scenes(lesson: Lesson, *, advised: bool = False, drawn: bool = False) -> Iterator[Scene]:
    """The lesson from its first look to its last line; a look like the one before it is shown once.

    `advised`: the examiner asks for the next lens. `drawn`: looks hold what a moving picture needs.
    Raises PracticeError where nothing is found.
    """
    exercise, settings = lesson.exercise, lesson.settings
    fresh: list[Glimpse] = []

    def looked(glimpse: Glimpse) -> None:
        if not lesson.glimpses or _view(lesson.glimpses[-1]) != _view(glimpse):
            fresh.append(glimpse)
        lesson.glimpses.append(glimpse)

    plan = Plan(
        exercise.technique, settings.naming, settings.cylinder_form, exercise.distance_cm, exercise.lens_in
    )
    examiner = Examiner(
        lesson.eye,
        plan,
        seed=exercise.seed,
        eye_name=exercise.eye,
        language=lesson.grammar.language,
        on_look=looked,
        advice=(lambda: advised_look(lesson.state, exercise.eye, settings.lens_set)) if advised else None,
        draws=drawn,
    )
    for line in examiner.lines():
        yield from (Scene(each) for each in fresh)
        fresh.clear()
        yield Scene(text=line, said=lesson.session.type_line(line))


def _view(glimpse: Glimpse) -> tuple[object, ...]:
    return (glimpse.lenses, glimpse.streak_deg, glimpse.reflex.motion)
