"""A session as what the loop feeds, and its events as what the ear and the screen get."""

from threading import Thread

import numpy as np

from voicelog.exam.events import Event, LeftOut, Line
from voicelog.exam.events import Source as Origin
from voicelog.exam.state import ExamState
from voicelog.hearing.engines.consulting import Consulting
from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.hearing.utterance import Utterance
from voicelog.live.feedback import ReadBack, feedback
from voicelog.session import Session
from voicelog.speaking.speaker import Speaker


class ExamTaker:
    """Hears with an engine, enters into a session, which may become another."""

    def __init__(self, session: Session, engine: Engine) -> None:
        self.session, self._engine = session, engine

    def recognise(self, samples: Samples) -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz; enters nothing."""
        return self._engine.hear(samples, self.session.listened_for)

    def warm_up(self) -> None:
        """Hear a second of faint noise, so that the first utterance does not wait for what is made once.

        A second listener gets ready meanwhile, and after it: in a quiet room it is not needed at once.
        """
        if isinstance(self._engine, Consulting):
            Thread(target=self._engine.prepare, name="second listener").start()
        noise = np.random.default_rng(0).standard_normal(SAMPLE_RATE_HZ) * 0.001
        self.recognise(noise.astype(np.float32))

    def take(self, hearing: Hearing, utterance: Utterance) -> Line:
        """Enter what was heard."""
        return self.session.take_heard(hearing, utterance)

    def take_line(self, line: str, source: Origin = "typed") -> Line:
        """Enter a line that was typed on the keyboard or on the page."""
        return self.session.type_line(line, source)

    def missed(self, utterance: Utterance, why: LeftOut) -> Line:
        """Note an utterance that cannot be recognised."""
        return self.session.take_missed(utterance, why)

    def lost(self, utterance: Utterance | None, source: Origin) -> Line:
        """Note what was said or typed and was lost to a fault."""
        return self.session.take_lost(utterance, source)

    def refused(self, words: str) -> Line:
        """Note that the record refused what was entered last, for a while."""
        return self.session.note_refusal(words)


class Ear:
    """Lets each event be heard; a listener of the session."""

    def __init__(self, speaker: Speaker, mode: ReadBack) -> None:
        self._speaker = speaker
        self.mode = mode

    def __call__(self, event: Event, state: ExamState) -> None:
        """Sound the tone of an event and speak its words; returns at once."""
        if not isinstance(event, Line):
            return
        answer = feedback(event, state, self.mode)
        if answer.signal is not None:
            self._speaker.tone(answer.signal)
        self._speaker.say(answer.text)
