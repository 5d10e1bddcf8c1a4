"""A lesson by voice: the microphone (or a recording) through the recogniser to the lesson."""

import os
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

from voicelog.exam.events import LeftOut, Line, Source
from voicelog.hearing import portaudio, sources
from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.microphone import MicrophoneSource
from voicelog.hearing.sources import FileSource
from voicelog.hearing.utterance import Utterance
from voicelog.live import devices, keys
from voicelog.live.listening import Listening, Told
from voicelog.practice.keeping import keep_lesson
from voicelog.practice.lesson import Answer, Lesson
from voicelog.practice.shown import Shown

_WAIT_S = 0.2


class LessonTaker:
    """Hears with an engine, hands to a lesson, and shows what came of it."""

    def __init__(
        self,
        lesson: Lesson,
        engine: Engine,
        show: Callable[[Answer], None],
        tell: Callable[[str], None] = lambda text: None,
    ) -> None:
        self._lesson, self._engine, self._show, self._tell = lesson, engine, show, tell

    def recognise(self, samples: Samples) -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz; enters nothing."""
        return self._engine.hear(samples, self._lesson.listened_for)

    def take(self, hearing: Hearing, utterance: Utterance) -> Line:
        """Take what was heard."""
        return self._shown(self._lesson.take_heard(hearing, utterance), "voice", "")

    def take_line(self, line: str, source: Source) -> Line:
        """Take a typed line."""
        return self._shown(self._lesson.type_line(line), source, line)

    def missed(self, utterance: Utterance, why: LeftOut) -> Line:
        """A lesson says nothing of what it did not hear."""
        return _no_event("voice")

    def lost(self, utterance: Utterance | None, source: Source) -> Line:
        """As `missed`; the lesson says so."""
        self._tell("lost to a fault: say it again")
        return _no_event(source)

    def refused(self, words: str) -> Line:
        """Nothing of a lesson is kept."""
        return _no_event("voice")

    def _shown(self, answer: Answer, source: Source, text: str) -> Line:
        self._show(answer)
        if answer.said is not None:
            return answer.said
        return _no_event(source, text)


def _no_event(source: Source, text: str = "") -> Line:
    """The loop wants an event of everything that it hands over; laying the streak is none of the exam's."""
    return Line(number=-1, at=datetime.now(UTC), source=source, text=text, outcome="ignored")


def spoken(
    lesson: Lesson,
    engine: Engine,
    *,
    device: str | None = None,
    recording: Path | None = None,
    as_json: bool,
    words: bool = False,
) -> None:
    """Take spoken lines, and typed ones between, until "stop listening", "done", Ctrl-D, Ctrl-C or the sound's end.

    `words`: each look is told without being asked ("tell me").
    Raises MissingPartError without PortAudio (not for a recording), AudioError for an unusable recording.
    """
    shown = Shown(lesson, as_json=as_json, words=words)
    source: sources.Source
    if recording:
        source = FileSource(recording, "fast")
    else:
        named = devices.chosen(device, lesson.settings.microphone)
        source = MicrophoneSource(named, lambda _, text: shown.line(f"microphone: {text}"))

    def show(answer: Answer) -> None:
        if answer.ended:
            listening.close()
        elif answer.said is None or answer.said.outcome != "ignored":
            shown.line(f"> {lesson.turns[-1].text}")
            shown.answer(answer)

    listening = Listening(
        source, LessonTaker(lesson, engine, show, shown.line), told=Told(problem=shown.line)
    )
    shown.beginning()
    with ExitStack() as stack:
        if recording is None:
            stack.enter_context(portaudio.native_messages_to(Path(os.devnull)))
            if keys.is_terminal():
                stack.enter_context(keys.reading(keys.LineBuffer(listening.type_line), listening.close))
        _run(listening)
    shown.end()
    keep_lesson(lesson)


def _run(listening: Listening) -> None:
    """Until the sound ends; Ctrl-C ends it early and what was heard is still taken."""
    listening.start()
    try:
        while not listening.wait(_WAIT_S):
            pass
    except KeyboardInterrupt:
        listening.close()
        listening.wait()
