"""One patient after the other: the orders that end an exam and begin the next, and those to screen and voice."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.errors import MissingPartError
from voicelog.exam.state import EYES
from voicelog.live.taking import Ear, ExamTaker
from voicelog.screen.by_hand import InForce
from voicelog.session import Session
from voicelog.speaking.speaker import Speaker, louder
from voicelog.speaking.tones import Signal

View = Literal["", "everything", "far"]
"""What was asked to be shown; empty: nothing was."""

_VIEWS: Final[dict[str, View]] = {"show_everything": "everything", "show_less": "far"}
_VIEW_ORDERED_S: Final = 2.0  # longer than from one message to the page to the next
_STEPS: Final = {"louder": 1, "quieter": -1}


@dataclass(frozen=True, slots=True)
class Patients:
    """Where exams come from and go to.

    `begin` makes the next; `over` is told of one that has come to its end, and says in words where it is kept.
    `opening` says or asks what is to be said at the beginning of one that follows. `referred` is told of one that was
    given a reference before its first entry, and may give another session to go on with in its place.
    """

    begin: Callable[[], Session]
    over: Callable[[Session], str]
    opening: Callable[[Session], object] = Session.ask_reference
    referred: Callable[[Session], Session | None] = lambda session: None


class Round:
    """Carries out orders, in the thread that enters.

    `shows` is told each new session, `tells` each exam's end; `open_voice` has words heard, or raises MissingPartError.
    """

    def __init__(
        self,
        session: Session,
        taker: ExamTaker,
        ear: Ear,
        speaker: Speaker,
        patients: Patients | None,
        *,
        shows: Callable[[Session], None],
        tells: Callable[[str], None],
        problem: Callable[[str], None],
        open_voice: Callable[[], None],
    ) -> None:
        self.session = session
        self._view: tuple[View, float] = ("", 0.0)
        self._taker, self._ear, self._speaker, self._patients = taker, ear, speaker, patients
        self._shows, self._tells, self._problem = shows, tells, problem
        self._open_voice = open_voice
        self._told: Session | None = None
        session.on_order = self.carry_out

    def carry_out(self, order: str) -> None:
        """Do what was ordered."""
        match order:
            case "finish" | "discard":
                self.end()
            case "next_patient":
                self._next()
            case "referred":
                self._referred()
            case "louder" | "quieter":
                self._speaker.volume = louder(self._speaker.volume, steps=_STEPS[order])
                self._speaker.tone(Signal.ACCEPTED)
            case "mute" | "read_back_off":
                self._ear.mode = "off"
                self._speaker.stop()
            case "read_back_on":
                self._read_back_on()
            case "show_everything" | "show_less":
                self._view = _VIEWS[order], time.monotonic()

    @property
    def view(self) -> View:
        """What was ordered to be shown in the last seconds; the page may since have been told otherwise by hand."""
        view, at_s = self._view
        return view if time.monotonic() - at_s < _VIEW_ORDERED_S else ""

    @property
    def in_force(self) -> InForce:
        """What was ordered and holds now, so that a key can order the contrary."""
        paused, silent = not self.session.state.listening, self._ear.mode == "off"
        return InForce(everything=self._view[0] == "everything", paused=paused, silent=silent)

    def end(self) -> None:
        """The exam has come to its end; where it is kept is said once."""
        if self._patients is not None and self._told is not self.session:
            self._told = self.session
            self._tells(self._patients.over(self.session))

    def _read_back_on(self) -> None:
        try:
            self._open_voice()
        except MissingPartError as error:
            self._problem(f"no read-back, tones only: {error}")
        else:
            self._ear.mode = "full"

    def _next(self) -> None:
        self.end()
        if self._patients is None:
            self._problem("no further exam begins here")
            return
        try:
            session = self._patients.begin()
        except Exception as error:  # the round goes on: it can be said again
            self._problem(f"THE NEXT EXAM CANNOT BEGIN: {' '.join(str(error).split())}")
            return
        self._go_on_with(session, self._patients)

    def _referred(self) -> None:
        session = None if self._patients is None else self._patients.referred(self.session)
        if session is not None and self._patients is not None:
            self._go_on_with(session, self._patients)

    def _go_on_with(self, session: Session, patients: Patients) -> None:
        session.on_order = self.carry_out
        self.session = self._taker.session = session
        self._shows(session)
        patients.opening(session)


def results_in_words(session: Session) -> str:
    """ "right +1.00 -0.50 x 090, left no result"."""
    eyes = session.state.eyes
    return ", ".join(f"{name} {eyes[name].result or 'no result'}" for name in EYES)
