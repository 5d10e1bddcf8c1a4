"""One live exam put together: source, loop, session, ear and screen."""

import os
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from rich.console import Console

from voicelog.exam.events import Event, Line
from voicelog.exam.events import Source as Origin
from voicelog.exam.state import ExamState
from voicelog.hearing import portaudio
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.microphone import MicrophoneSource, MicrophoneState
from voicelog.hearing.sources import FileSource, Source
from voicelog.live import keys
from voicelog.live.alarms import Alarms
from voicelog.live.display import Display
from voicelog.live.exchange_table import HINTS, state_of
from voicelog.live.holding import Holding
from voicelog.live.latency import entry_latency
from voicelog.live.listening import Listening, Told
from voicelog.live.notices import Notices
from voicelog.live.options import Ended, LiveOptions
from voicelog.live.round import Patients, Round
from voicelog.live.signals import ended_by_signals
from voicelog.live.sounding import Plays, Sounding
from voicelog.live.staying import StayingSource
from voicelog.live.switch import Switch
from voicelog.live.taking import Ear, ExamTaker
from voicelog.screen.by_hand import phrase_of
from voicelog.screen.status import Status
from voicelog.screen.turn import Sound, hint, missed, turn_of
from voicelog.session import Session

GREETING: Final = "Listening. Say the eye, the streak, the lens, and what the reflex does."
"""What is said first: that it listens, and three seconds from which the canceller learns."""


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
        self._over = False
        self._source = source or self._opened()
        self._switch = Switch(options.pedal) if options.push_to_talk else None
        self._sounding = Sounding(
            options, self._notices, quiet=lambda: not self._listening.in_speech, plays=plays
        )
        self._speaker = self._sounding.speaker
        self._alarms = Alarms(
            self._notices,
            self._speaker,
            listens=lambda: self._session.state.listening,
            wake=lambda: self._display.wake(),
        )
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
            problem=self._alarms.problem,
            open_voice=self._sounding.open_voice,
        )
        holding = Holding(self._taker)
        at_real_pace = options.source is None or options.pace == "real"
        self._listening = Listening(
            self._source,
            self._taker,
            own=self._sounding.own,
            switch=self._switch,
            told=Told(
                problem=self._alarms.problem,
                held=self._alarms.held,
                hold=holding.hold,
                let_go=holding.let_go,
                fault=self._notices.fault,
                barge_in=self._speaker.stop,
                finished=self._finished,
            ),
            # Faster than real, the sound would have gone on before anything is known of it.
            patience_s=session.patience_s if at_real_pace else None,
            warm_up=self._taker.warm_up,
            opens_again=options.source is None,
            watch=self._alarms.heard if options.source is None else None,
        )
        self._line = keys.LineBuffer(self._listening.type_line)
        self._display = Display(
            console, session.state, self.status, session.acuity_notation, self._notices.fault
        )
        self._attend(session)

    def watch(self, watcher: Callable[[Session], None]) -> None:
        """Tell `watcher` of each further exam's session, before anything is entered in it."""
        self._watchers.append(watcher)

    def _attend(self, session: Session) -> None:
        session.on_fault, session.on_moved = self._notices.fault, self._alarms.moved
        session.listen(self._clear_notice)
        session.listen(self._display)
        session.listen(self._ear)

    def _clear_notice(self, event: Event, state: ExamState) -> None:
        if isinstance(event, Line) and event.outcome == "accepted":
            self._notices.entered()

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

    def _close(self) -> None:
        self._over = True
        self._source.close()
        self._sounding.close()

    def _key(self, key: str) -> None:
        order = phrase_of(key, self._round.in_force)
        if order:
            self._listening.type_line(order)
        elif self._switch is not None:
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
            lost=self._alarms.lost,
            muted=self._alarms.muted,
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
            settles=HINTS[state_of(state)],
            missed=missed(state.events).words,
            notice=self._notices.now,
            banner=self._options.banner,
            switch_open=sound.switch_open,
            typed=self._line.text,
            view=self._round.view,
            in_force=self._round.in_force,
        )

    def _microphone(self, state: MicrophoneState, text: str) -> None:
        self._alarms.microphone(state, text)

    def _finished(self) -> None:
        self._over = True
        self._display.wake()


__all__ = ["Ended", "LiveExam", "LiveOptions"]
