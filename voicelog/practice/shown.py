"""A lesson in a terminal: what is set, each look, and the comparison; or one object at the end."""

import json
import sys

from rich.console import Console

from voicelog.practice.drawing import drawing
from voicelog.practice.eye import Glimpse
from voicelog.practice.lesson import Answer, Lesson
from voicelog.practice.map_words import map_data, map_of, map_table, score_words
from voicelog.practice.report import as_data, in_words
from voicelog.practice.telling import glimpsed, setting, steps
from voicelog.record.inert import inert
from voicelog.screen.terminal import CAUTION

_PROMPT = "> "


class Shown:
    """What the learner sees; with `as_json` nothing but one object at the end.

    `words`: each look is told too, not drawn alone.
    """

    def __init__(self, lesson: Lesson, *, as_json: bool, words: bool = True) -> None:
        self._lesson, self._as_json, self._words = lesson, as_json, words
        self._console = Console(highlight=False)
        self._asks = sys.stdin.isatty() and not as_json

    def head(self) -> None:
        """What is set."""
        for line in setting(self._lesson.exercise, self._lesson.settings):
            self.line(line)

    def beginning(self, *, steps_too: bool = True) -> None:
        """What is set and, with `steps_too`, what to do."""
        self.head()
        if not steps_too:
            self.prompt()
            return
        todo = steps(self._lesson.exercise, self._lesson.settings)
        for number, step in enumerate(todo, start=1):
            self.line(f"{number}. {step}")
        self.line(
            "Any time: look (look again), tell me (what is to be seen, in words), hint (what to do), "
            "scratch that (take back), what is missing. At the end: done."
        )
        self.prompt()

    def prompt(self) -> None:
        """Ask for the next line, where somebody types."""
        if self._asks:
            self._console.print(_PROMPT, end="")

    def answer(self, answer: Answer) -> None:
        """The log's reply and the reflex."""
        if answer.said is not None:
            outcome = "entered" if answer.said.outcome == "accepted" else answer.said.outcome
            self.line(f"log: {outcome}: {answer.said.reply}".removesuffix(": "))
        if answer.text:
            self.line(answer.text)
        if answer.glimpse is not None:
            self.glance(answer.glimpse)

    def glance(self, glimpse: Glimpse) -> None:
        """One look, drawn and told."""
        if self._as_json:
            return
        self._console.print(drawing(glimpse.reflex, glimpse.streak_deg, told=self._words))
        words = f": {glimpsed(glimpse)}" if self._words else ""
        self.line(f"streak {glimpse.streak_deg:03.0f}, {glimpse.lenses}{words}")

    def line(self, text: str) -> None:
        """One line of text."""
        if not self._as_json:
            self._console.print(inert(text), markup=False)

    def end(self) -> None:
        """The comparison."""
        if self._as_json:
            print(json.dumps(as_data(self._lesson) | {"map": map_data(self._lesson)}))
            return
        self.line("")
        for text in in_words(self._lesson):
            self.line(text)
        if self._lesson.glimpses:
            self.line("")
            self._console.print(map_table(map_of(self._lesson)))
            for text in score_words(self._lesson):
                self.line(text)
        self.line(CAUTION)
