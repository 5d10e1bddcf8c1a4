"""A lesson held at the terminal, with typed lines or by the scripted examiner; `voice.py` holds the spoken one."""

from collections.abc import Iterable

from voicelog.practice.examiner import Examiner, Plan
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import Glimpse
from voicelog.practice.lesson import Lesson
from voicelog.practice.shown import Shown
from voicelog.settings import Settings


def typed(lesson: Lesson, lines: Iterable[str], *, as_json: bool, words: bool = True) -> None:
    """Take typed lines until they end or one says so, then compare. `words`: each look is told without being asked."""
    show = Shown(lesson, as_json=as_json, words=words)
    show.beginning()
    for line in lines:
        answer = lesson.type_line(line)
        if answer.ended:
            break
        show.answer(answer)
        show.prompt()
    show.end()


def watched(exercise: Exercise, settings: Settings, *, as_json: bool) -> None:
    """The scripted examiner at work on the exercise: every look and every line."""
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
    examiner = Examiner(
        lesson.eye,
        plan,
        seed=exercise.seed,
        eye_name=exercise.eye,
        language=lesson.grammar.language,
        on_look=looked,
    )
    for line in examiner.lines():
        said = lesson.session.type_line(line)
        show.line(f"says: {line}" if said.outcome == "accepted" else f"says: {line} ({said.reply})")
    show.end()


def _view(glimpse: Glimpse) -> tuple[object, ...]:
    return (glimpse.lenses, glimpse.streak_deg, glimpse.reflex.motion)
