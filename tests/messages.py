"""Messages as the program gives them: replies, questions, refusals, errors, and what practice says.

They are collected by running it, so that none is out of date. A message that lists several things is taken apart at its
semicolons: each part stands on a row of its own on the screen, and is read by itself.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from voicelog.cli import main
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel, parse_refraction
from voicelog.practice.lesson import Lesson
from voicelog.practice.report import in_words
from voicelog.practice.telling import setting, steps
from voicelog.session import Session
from voicelog.settings import Settings

FEWEST_WORDS = 4
"""Fewer are read at once, and a grade of them says nothing."""

EXAM = """\
what is missing
which lens next
vertical neutral at plus two
right eye
what have i got
vertical neutral two
plus two
vertical neutral at plus two and
working distance 120
working distance 30
no
two thirds of a metre
horizontal neutral plus three fifty
scratch that
what do all the looks say
make the axis one seventy
left eye
vertical neutral minus one
horizontal neutral minus 9.3
no
horizontal with at plus three
horizontal against at plus one
what have i got
compare the eyes
axis 200
next
cylinder minus one
no
cylinder minus one axis 90
horizontal neutral
yes
right eye spectacles plus one
right eye
streak vertical neutral at plus 4
streak horizontal neutral at plus 2
refined sphere minus two
what is the difference
drops tropicamide one percent both eyes
reference 4711
redo
delete the last two
sphere plus thirty
streak 20 with at plus one
streak 45 with at plus 12
age 3
acuity six nine
show everything
net is plus one fifty minus one axis ten
mirror concave
working lens in
stop listening
vertical plus two
start listening
"""
"""What a newcomer may type, mistakes and all."""

PRACTICE = """\
hint
look
streak vertical
right eye
working distance 50
tell me
hint
sphere minus ten
hint
sphere plus three
tell me
hint
streak 120
hint
left eye
right eye
streak vertical neutral at plus six
streak horizontal neutral at plus six
done
"""

COMMANDS = (
    "solve --reading 90=+3.00 --distance 67",
    "solve --reading 90=+3.00",
    "solve --reading north=+3.00 --distance 67",
    "solve --reading 90=+3.00 --distance 670",
    "replay nowhere.wav",
    "hear nowhere.wav",
    "screen nowhere.csv --table",
    "practice --set nowhere.toml",
    "practice --set .",
    "practice --kind high --child",
    "practice --watch --voice",
    "practice --source nowhere.wav",
    "practice --refraction strong",
    "practice --off-axis 60",
    "record show nobody",
    "visits nobody",
    "export nobody --format csv",
    "record import nowhere.json",
    "models add nowhere",
    "settings set distance 60",
    "settings set naming sideways",
    "phrases --rule nothing",
    "review --port 99999",
    "solve --distance",
    "examine",
)
"""Commands that are refused, each in one line."""


def parts(message: str) -> Iterator[str]:
    """A message taken apart at its semicolons and line ends."""
    for each in re.split(r"; |\n", message):
        text = " ".join(each.split())
        if len(text.split()) >= FEWEST_WORDS:
            yield text


def of_the_log() -> Iterator[str]:
    """Replies, questions and refusals of an exam."""
    session = Session(Settings(naming="streak"))
    for line in EXAM.splitlines():
        yield session.type_line(line).reply


def of_practice() -> Iterator[str]:
    """What is set, what to do, what is seen, hints, and what went wrong."""
    exercise = Exercise(EyeModel(parse_refraction("+1.25 -1.75 x 70")), 3, distance_cm=50.0, kind="oblique")
    for technique in ("spheres", "sphere-cylinder", "cylinders"):
        yield from steps(Exercise(exercise.model, 3, technique=technique), Settings())
    lesson = Lesson(exercise, Settings(naming="streak"))
    yield from setting(exercise, lesson.settings)
    for line in PRACTICE.splitlines():
        answer = lesson.type_line(line)
        yield answer.text
        yield answer.seen
    yield from in_words(lesson)


def of_commands(capsys: pytest.CaptureFixture[str]) -> Iterator[str]:
    """The one line of each refused command; a path, and the list of what there is instead, are no prose."""
    for command in COMMANDS:
        try:
            status = main(command.split())
        except SystemExit as stop:
            status = int(stop.code or 0)
        told = capsys.readouterr().err.strip()
        assert status == 2, command
        assert len(told.splitlines()) == 1, told
        yield re.sub(r"\S*[\\/]\S+", "it", re.split(r"[Tt]here are ", told)[0])


def of_pages(folder: Path) -> Iterator[str]:
    """Paragraphs of the page's templates, without forms; what is put in by the server is read as "it"."""
    for path in sorted(folder.glob("*.html")):
        text = re.sub(r"\{%.*?%\}", " ", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        text = re.sub(r"\{\{.*?\}\}", "it", text, flags=re.DOTALL)
        text = re.sub(r"<(button|label|select)\b.*?</\1>", " ", text, flags=re.DOTALL)
        for found in re.findall(r"<(?:p|li|figcaption)\b[^>]*>(.*?)</(?:p|li|figcaption)>", text, re.DOTALL):
            yield " ".join(re.sub(r"<[^>]*>", " ", found).split())
