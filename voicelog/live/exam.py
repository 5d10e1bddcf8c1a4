"""One live exam put together: source, loop, session, ear and screen."""

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import FrameType
from typing import Final, Protocol

from rich.console import Console

from voicelog.errors import MissingPartError
from voicelog.exam.events import Source as Origin
from voicelog.hearing import portaudio
from voicelog.hearing.engines.protocol import Engine, Samples
from voicelog.hearing.microphone import MicrophoneSource, MicrophoneState
from voicelog.hearing.sources import FileSource, Source
from voicelog.live import keys
from voicelog.live.display import Display, Status
from voicelog.live.latency import entry_latency
from voicelog.live.listening import Listening, Told
from voicelog.live.muting import MuteWatch
from voicelog.live.notices import Notices
from voicelog.live.options import Ended, LiveOptions
from voicelog.live.round import Patients, Round
from voicelog.live.staying import StayingSource
from voicelog.live.switch import Switch
from voicelog.live.taking import Ear, ExamTaker
from voicelog.screen.turn import Sound, hint, missed, turn_of
from voicelog.session import Session
from voicelog.speaking.clocks import Clock
from voicelog.speaking.loudspeaker import RATE_HZ, Loudspeaker
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.own_sound import OwnSound
from voicelog.speaking.speaker import SilentSpeaker, SoundSpeaker, Speaker
from voicelog.speaking.tones import Signal
from voicelog.speaking.voice import SystemVoice

GREETING: Final = "Listening. Say the eye, the streak, the lens, and what the reflex does."
"""What is said first: that it listens, and three seconds from which the canceller learns."""


class Closing(Protocol):
    """Something that is given back."""

    def close(self) -> None:
        """Give it back."""
        ...


Plays = Callable[[Mixer, Clock, Callable[[str], None]], Closing]
"""Begins to play a mixer, and tells the clock what was pulled when."""


def _play(mixer: Mixer, pulled: Clock, on_problem: Callable[[str], None]) -> Closing:
    return Loudspeaker(mixer, pulled, on_problem=on_problem)


class LiveExam:
    """Runs exams from a source to the end of the sound, Ctrl-C, Ctrl-D or SIGTERM.

    Whatever fails on the way costs one utterance at most, and is noted. `source` and `plays` stand in for the
    microphone and the loudspeaker. With `patients` one exam follows the other. Raises MissingPartError without
    PortAudio (not for a recording), AudioError for an unusable recording.
    """

    def __init__(
        self,
        session: Session,
        engine: Engine,
        options: LiveOptions,
        console: Console,
        *,
        source: Source | None = None,
        plays: Plays | None = None,
        patients: Patients | None = None,
    ) -> None:
        self._options = options
        self._watchers: list[Callable[[Session], None]] = []
        self._notices = Notices()
        self._muting = MuteWatch()
        self._lost = self._over = False
        self._source = source or self._opened()
        self._plays = plays or _play
        self._switch = Switch(options.pedal) if options.push_to_talk else None
        self._mixer, pulled = Mixer(RATE_HZ), Clock(RATE_HZ)
        self._voice: SystemVoice | None = None
        self._loudspeaker: Closing | None = None
        self._speaker = self._made_speaker(pulled)
        self._taker = ExamTaker(session, engine)
        self._ear = Ear(self._speaker, options.read_back)
        self._round = Round(
            session,
            self._taker,
            self._ear,
            self._speaker,
            patients,
            shows=self._show,
            tells=self._tell,
            problem=self._problem,
        )
        at_real_pace = options.source is None or options.pace == "real"
        self._listening = Listening(
            self._source,
            self._taker,
            own=OwnSound(self._mixer, pulled, heard=not options.headset),
            switch=self._switch,
            told=Told(
                problem=self._problem,
                held=self._held,
                fault=self._fault,
                barge_in=self._speaker.stop,
                finished=self._finished,
            ),
            # Faster than real, the sound would have gone on before anything is known of it.
            patience_s=session.patience_s if at_real_pace else None,
            warm_up=self._taker.warm_up,
            opens_again=options.source is None,
            watch=self._watch_muting if options.source is None else None,
        )
        self._line = keys.LineBuffer(self._listening.type_line)
        self._display = Display(console, session.state, self.status, session.acuity_notation, self._fault)
        self._attend(session)

    def watch(self, watcher: Callable[[Session], None]) -> None:
        """Tell `watcher` of each further exam's session, before anything is entered in it."""
        self._watchers.append(watcher)

    def _attend(self, session: Session) -> None:
        session.on_fault, session.on_moved = self._fault, self._moved
        session.listen(self._display)
        session.listen(self._ear)

    def _show(self, session: Session) -> None:
        """Another exam begins."""
        self._attend(session)
        self._listening.forget()
        self._display.show(session.state)
        for watcher in self._watchers:
            watcher(session)

    def _tell(self, text: str) -> None:
        self._notices.note(text)
        self._display.tell(text)

    @property
    def _session(self) -> Session:
        return self._round.session

    def run(self) -> Ended:
        """Run it in the main thread; what was heard until the end is entered."""
        with ExitStack() as stack:
            stack.callback(self._close)
            stack.enter_context(ended_by_signals(self._listening.close))
            if self._options.source is None:
                stack.enter_context(portaudio.native_messages_to(Path(os.devnull)))
            if self._options.push_to_talk or (self._options.source is None and keys.is_terminal()):
                stack.enter_context(keys.reading(self._key, self._listening.close))
            self._listening.start()
            self._speaker.say(GREETING, alarm=True)
            self._display.run(lambda: self._listening.wait(0))
        self._round.end()
        self._display.tell_rest()
        if isinstance(self._source, FileSource | StayingSource):
            for note in self._source.notes:
                self._notices.note(note)
        shown = entry_latency(self._session.state, self._listening.arrivals, self._display.shown)
        return Ended(self._session.state, self._listening.counts, shown, self._notices.notes)

    def _opened(self) -> Source:
        if self._options.source is not None:
            recording = FileSource(self._options.source, self._options.pace)
            return StayingSource(recording) if self._options.stay else recording
        return MicrophoneSource(self._options.device, self._microphone)

    def _made_speaker(self, pulled: Clock) -> Speaker:
        if self._options.source is not None:
            return SilentSpeaker()
        if self._options.read_back != "off":
            try:
                self._voice = SystemVoice()
            except MissingPartError as error:
                self._notices.note(f"no read-back, tones only: {error}")
        speaker = SoundSpeaker(
            self._mixer,
            self._voice,
            tones=self._options.tones,
            volume=self._options.volume,
            quiet=lambda: not self._listening.in_speech,
            on_problem=self._unheard,
        )
        self._loudspeaker = self._plays(self._mixer, pulled, self._unheard)
        return speaker

    def _unheard(self, text: str) -> None:
        self._notices.note(f"not heard: {text}")

    def _close(self) -> None:
        self._over = True
        self._source.close()
        self._speaker.close()
        for part in (self._loudspeaker, self._voice):
            if part is not None:
                part.close()

    def _key(self, key: str) -> None:
        if self._switch is not None:
            self._switch.press()
        else:
            self._line(key)
        self._display.wake()

    @property
    def lines(self) -> int:
        """How many events the exam has."""
        return len(self._session.state.events)

    def type_line(self, line: str, source: Origin) -> None:
        """Enter a line from elsewhere, after what was said before it; returns at once."""
        self._listening.type_line(line, source)

    @property
    def is_settled(self) -> bool:
        """Whether nothing more comes of what was heard so far, in entries or in sound."""
        return self._listening.idle and self._speaker.is_settled

    def status(self) -> Status:
        """How the sound is now, what is wrong, and whose turn it is."""
        state = self._session.state
        sound = Sound(
            ended=self._over,
            lost=self._lost,
            muted=self._muting.muted,
            switch_open=None if self._switch is None else self._switch.is_open,
            in_speech=self._listening.in_speech,
            speaking=self._speaker.is_speaking,
            thinking=self._listening.busy,
        )
        turn = turn_of(sound, state)
        return Status(
            level_dbfs=self._listening.level_dbfs,
            in_speech=sound.in_speech,
            turn=turn,
            hint=hint(turn, sound, state.question),
            missed=missed(state.events).words,
            notice=self._notices.now,
            banner=self._options.banner,
            switch_open=sound.switch_open,
            typed=self._line.text,
            view=self._round.view,
        )

    def _microphone(self, state: MicrophoneState, text: str) -> None:
        """The microphone went or came: the screen says so, and the ear, since nobody looks at the screen."""
        self._lost = state is MicrophoneState.LOST
        if state is MicrophoneState.LISTENING:
            self._muting.forget()
            self._notices.microphone("")
            self._notices.note(f"microphone: {text}")
        else:
            notice = f"MICROPHONE {state.value.upper()}: {text}"
            self._notices.microphone(notice)
            self._notices.note(notice)
            self._alarm("microphone lost" if self._lost else "sound was dropped")

    def _watch_muting(self, samples: Samples) -> None:
        """Somebody should be speaking: while the log does not listen, a muted microphone is what is wanted."""
        before = self._muting.muted
        self._muting.heard(samples)
        if self._muting.muted and not before and self._session.state.listening:
            self._notices.note("MICROPHONE MUTED: no sound for 5 s that could be a voice or a room")
            self._alarm("microphone muted")

    def _problem(self, text: str) -> None:
        self._notices.wrong(text)
        self._alarm("not entered")

    def _held(self, text: str) -> None:
        """The record refuses what was said: nothing that follows counts until it takes it."""
        if text:
            self._notices.note(f"held, not entered yet: {text}")
            self._notices.held(f"HELD: {text}; all that is said waits for it")
            self._alarm("not entered yet")
        else:
            self._notices.held("")
            self._notices.note("entered now: what was held")

    def _moved(self) -> None:
        """Values never change in silence."""
        self._notices.note(
            "changed from elsewhere: what was put right in the record meanwhile is in the exam now"
        )
        self._alarm("the record was changed")

    def _fault(self, fault: BaseException) -> None:
        self._notices.fault(fault)

    def _alarm(self, words: str) -> None:
        self._speaker.tone(Signal.CONTRADICTION)
        self._speaker.say(words, alarm=True)
        self._display.wake()

    def _finished(self) -> None:
        self._over = True
        self._display.wake()


@contextmanager
def ended_by_signals(close: Callable[[], None]) -> Iterator[None]:
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


__all__ = ["Ended", "LiveExam", "LiveOptions"]
