"""One live exam put together: source, loop, session, ear and screen."""

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any, Literal

from rich.console import Console

from voicelog.errors import MissingPartError
from voicelog.exam.events import Source as Origin
from voicelog.exam.state import ExamState
from voicelog.hearing import portaudio
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.microphone import MicrophoneSource, MicrophoneState
from voicelog.hearing.sources import FileSource, Source
from voicelog.live import keys
from voicelog.live.display import Display, Status
from voicelog.live.feedback import ReadBack
from voicelog.live.latency import Latency, entry_latency
from voicelog.live.listening import Counts, Listening, Told
from voicelog.live.staying import StayingSource
from voicelog.live.switch import Pedal, Switch
from voicelog.live.taking import Ear, ExamTaker
from voicelog.session import Session
from voicelog.settings import Settings
from voicelog.speaking.gate import PlaybackGate
from voicelog.speaking.speaker import SilentSpeaker, SoundSpeaker, Speaker
from voicelog.speaking.tones import Signal
from voicelog.speaking.voice import SystemVoice


@dataclass(frozen=True, slots=True)
class LiveOptions:
    """How to listen and to answer."""

    device: str | None = None
    """A part of the microphone's name; None: the system's default."""
    source: Path | None = None
    """A recording instead of the microphone; then nothing is played."""
    pace: Literal["real", "fast"] = "real"
    stay: bool = False
    """After the recording go on with what is typed, until it is ended as with a microphone."""
    tones: bool = True
    volume: float = 0.5
    read_back: ReadBack = "short"
    headset: bool = False
    """The microphone does not hear the loudspeaker: every word counts, also while the program speaks."""
    push_to_talk: bool = False
    pedal: Pedal = "toggle"

    @classmethod
    def of(cls, settings: Settings, **given: Any) -> "LiveOptions":
        """What the settings say of the sound, and what was `given` beside them, which goes before."""
        by_settings = {
            "tones": settings.tones,
            "volume": settings.volume,
            "read_back": settings.read_back,
            "headset": settings.headset,
        }
        return cls(**(by_settings | given))


@dataclass(frozen=True, slots=True)
class Ended:
    """What a live exam was like."""

    state: ExamState
    counts: Counts
    latency: Latency
    notes: tuple[str, ...]
    """What was odd on the way, one line each."""

    @property
    def figures(self) -> dict[str, Any]:
        """All but the state, for JSON."""
        return {
            "utterances": self.counts.utterances,
            "drafts": self.counts.drafts,
            "drafts_used": self.counts.drafts_used,
            "own_speech": self.counts.own_speech,
            "most_waiting": self.counts.most_waiting,
            "latency": self.latency.as_json(),
            "notes": list(self.notes),
        }


class LiveExam:
    """Runs one exam from its source to the end of the sound, Ctrl-C, Ctrl-D or SIGTERM.

    Raises MissingPartError without PortAudio (not for a recording), AudioError for an unusable recording.
    """

    def __init__(self, session: Session, engine: Engine, options: LiveOptions, console: Console) -> None:
        self._session, self._options = session, options
        self._notices: list[str] = []
        self._notice = ""
        self._source = self._opened()
        self._switch = Switch(options.pedal) if options.push_to_talk else None
        self._gate = PlaybackGate(own_speech_heard=not options.headset)
        self._voice: SystemVoice | None = None
        self._speaker = self._made_speaker()
        told = Told(self._problem, self._speaker.stop, self._drowned, lambda: self._display.wake())
        self._taker = ExamTaker(session, engine)
        at_real_pace = options.source is None or options.pace == "real"
        self._listening = Listening(
            self._source,
            self._taker,
            gate=self._gate,
            switch=self._switch,
            told=told,
            # Faster than real, the sound would have gone on before anything is known of it.
            patience_s=session.patience_s if at_real_pace else None,
            warm_up=self._taker.warm_up,
        )
        self._line = keys.LineBuffer(self._listening.type_line)
        self._display = Display(console, session.state, self.status, session.acuity_notation)
        session.listen(self._display)
        session.listen(Ear(self._speaker, options.read_back))

    def run(self) -> Ended:
        """Run it in the main thread; what was heard until the end is entered."""
        with ExitStack() as stack:
            stack.callback(self._close)
            stack.enter_context(_ended_by_signals(self._listening.close))
            if self._options.source is None:
                stack.enter_context(portaudio.native_messages_to(Path(os.devnull)))
            if self._options.push_to_talk or (self._options.source is None and keys.is_terminal()):
                stack.enter_context(keys.reading(self._key, self._listening.close))
            self._listening.start()
            self._display.run(lambda: self._listening.wait(0))
        if isinstance(self._source, FileSource | StayingSource):
            self._notices += self._source.notes
        shown = entry_latency(self._session.state, self._listening.arrivals, self._display.shown)
        return Ended(self._session.state, self._listening.counts, shown, tuple(self._notices))

    def _opened(self) -> Source:
        if self._options.source is not None:
            recording = FileSource(self._options.source, self._options.pace)
            return StayingSource(recording) if self._options.stay else recording
        return MicrophoneSource(self._options.device, self._microphone)

    def _made_speaker(self) -> Speaker:
        if self._options.source is not None:
            return SilentSpeaker()
        if self._options.read_back != "off":
            try:
                self._voice = SystemVoice()
            except MissingPartError as error:
                self._note(f"no read-back, tones only: {error}")
        return SoundSpeaker(
            self._voice,
            tones=self._options.tones,
            volume=self._options.volume,
            on_speech_started=self._gate.started,
            on_speech_ended=self._gate.ended,
            on_problem=lambda text: self._note(f"not heard: {text}"),
        )

    def _close(self) -> None:
        self._source.close()
        self._speaker.close()
        if self._voice is not None:
            self._voice.close()

    def _key(self, key: str) -> None:
        if self._switch is not None:
            self._switch.press()
        else:
            self._line(key)
        self._display.wake()

    def type_line(self, line: str, source: Origin) -> None:
        """Enter a line from elsewhere, after what was said before it; returns at once."""
        self._listening.type_line(line, source)

    def status(self) -> Status:
        """How the sound is now, and what is wrong."""
        return Status(
            level_dbfs=self._listening.level_dbfs,
            in_speech=self._listening.in_speech,
            notice=self._notice,
            switch_open=None if self._switch is None else self._switch.is_open,
            typed=self._line.text,
        )

    def _microphone(self, state: MicrophoneState, text: str) -> None:
        """The microphone went or came: the screen says so, and the ear, since nobody looks at the screen."""
        if state is MicrophoneState.LISTENING:
            self._notice = ""
            self._note(f"microphone: {text}")
        else:
            self._notice = f"MICROPHONE {state.value.upper()}: {text}"
            self._note(self._notice)
            self._speaker.tone(Signal.CONTRADICTION)
            self._speaker.say("microphone lost" if state is MicrophoneState.LOST else "sound was dropped")
        self._display.wake()

    def _problem(self, text: str) -> None:
        self._notice = text
        self._note(text)
        self._speaker.tone(Signal.CONTRADICTION)
        self._speaker.say("not entered")
        self._display.wake()

    def _drowned(self) -> None:
        self._note("words under the program's own voice were not kept")
        self._speaker.tone(Signal.IGNORED_BUT_CLOSE)

    def _note(self, text: str) -> None:
        """Keep a note; where no screen shows it, say it at once on standard error."""
        if len(self._notices) < _MOST_NOTES and (not self._notices or self._notices[-1] != text):
            self._notices.append(text)
            if not sys.stdout.isatty():
                print(text, file=sys.stderr, flush=True)


_MOST_NOTES = 1000


@contextmanager
def _ended_by_signals(close: Callable[[], None]) -> Iterator[None]:
    """Ctrl-C and SIGTERM end the sound, and what was heard is still entered; a second one ends at once."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    asked = False

    def end(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True
        close()

    before = {number: signal.signal(number, end) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
