"""The scripted examiner on the page: its scenes as data, and its lines spoken by the system voice of this machine."""

import io
import threading
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field
from typing import Any
from weakref import WeakKeyDictionary

import soundfile

from voicelog.page.context import Page
from voicelog.page.lessons import look_data
from voicelog.practice.errors import PracticeError
from voicelog.practice.exercise import Exercise
from voicelog.practice.lesson import Lesson
from voicelog.practice.report import in_words
from voicelog.practice.telling import setting
from voicelog.practice.watching import Scene, scenes
from voicelog.settings import Settings
from voicelog.speaking.voice import SystemVoice


@dataclass(eq=False)
class Show:
    """A lesson that is watched: its scenes, and the sound of its lines (WAV) once somebody asked for one."""

    lesson: Lesson
    scenes: tuple[Scene, ...]
    _sounds: tuple[bytes, ...] | None = field(default=None, repr=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, repr=False)

    @property
    def lines(self) -> tuple[str, ...]:
        """What is said, in its order."""
        return tuple(each.text for each in self.scenes if each.text)

    def sound(self, number: int) -> bytes:
        """A line's sound. Raises IndexError for one that there is not, MissingPartError, SpeakingError."""
        if not 0 <= number < len(self.lines):
            raise IndexError(number)
        with self._lock:
            if self._sounds is None:
                self._sounds = tuple(_spoken(self.lines))
            return self._sounds[number]


_SHOWS: "WeakKeyDictionary[Page, Show]" = WeakKeyDictionary()


def prepare(page: Page, exercise: Exercise, settings: Settings, *, advised: bool = False) -> Show:
    """Have the examiner do an exercise; what was watched before is gone. Raises PracticeError."""
    if exercise.concave_mirror:
        raise PracticeError("the scripted examiner works with a plane mirror")
    if exercise.off_axis_deg:
        raise PracticeError("the scripted examiner sits straight ahead")
    lesson = Lesson(exercise, settings, keeps=False)
    show = Show(lesson, tuple(scenes(lesson, advised=advised, drawn=True)))
    _SHOWS[page] = show
    return show


def show_of(page: Page) -> Show | None:
    """What is watched on a page; None before the first."""
    return _SHOWS.get(page)


def show_data(show: Show) -> dict[str, Any]:
    """The scenes as the page plays them, and what came of it."""
    lesson = show.lesson
    return {
        "setting": setting(lesson.exercise, lesson.settings),
        "scenes": list(_scenes(show.scenes)),
        "comparison": list(in_words(lesson)),
    }


def _scenes(found: Sequence[Scene]) -> list[dict[str, Any]]:
    told: list[dict[str, Any]] = []
    spoken = 0
    for scene in found:
        if scene.glimpse is not None:
            told.append({"look": look_data(scene.glimpse)})
        elif scene.said is not None:
            outcome = scene.said.outcome
            told.append({"line": spoken, "text": scene.text, "outcome": outcome, "reply": scene.said.reply})
            spoken += 1
    return told


def _spoken(lines: Sequence[str]) -> list[bytes]:
    with closing(SystemVoice()) as speaker:
        return [_wav(speaker, each) for each in lines]


def _wav(speaker: SystemVoice, text: str) -> bytes:
    said = speaker.speak(text)
    content = io.BytesIO()
    soundfile.write(content, said.samples, said.rate_hz, format="WAV", subtype="PCM_16")
    return content.getvalue()
