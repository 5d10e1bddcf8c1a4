"""What goes wrong in a live exam is noted, shown and heard: nobody looks at the screen."""

from collections.abc import Callable
from typing import Final

from voicelog.hearing.levels import Samples
from voicelog.hearing.microphone import MicrophoneState
from voicelog.live.muting import MUTED_AFTER_S, MuteWatch
from voicelog.live.notices import Notices
from voicelog.speaking.speaker import Speaker
from voicelog.speaking.tones import Signal

_MUTED: Final = f"MICROPHONE MUTED: no sound for {MUTED_AFTER_S:g} s that could be a voice or a room"
_MOVED: Final = "changed from elsewhere: what was put right in the record meanwhile is in the exam now"


class Alarms:
    """Told from any thread. `listens` says whether somebody should be speaking; `wake` has the screen drawn."""

    def __init__(
        self, notices: Notices, speaker: Speaker, *, listens: Callable[[], bool], wake: Callable[[], None]
    ) -> None:
        self.lost = False
        """Whether the microphone is missing, busy or unplugged."""
        self._notices, self._speaker, self._listens, self._wake = notices, speaker, listens, wake
        self._muting = MuteWatch()

    @property
    def muted(self) -> bool:
        """Whether the microphone gives no sound that could be a voice."""
        return self._muting.muted

    def microphone(self, state: MicrophoneState, text: str) -> None:
        """The microphone went or came."""
        self.lost = state is MicrophoneState.LOST
        if state is MicrophoneState.LISTENING:
            self._muting.forget()
            self._notices.microphone("")
            self._notices.note(f"microphone: {text}")
        else:
            notice = f"MICROPHONE {state.value.upper()}: {text}"
            self._notices.microphone(notice)
            self._notices.note(notice)
            self._sound("microphone lost" if self.lost else "sound was dropped")

    def heard(self, samples: Samples) -> None:
        """Take all sound of the microphone as it comes, shape (n,), 16 kHz.

        While the log does not listen, a muted microphone is what is wanted.
        """
        before = self._muting.muted
        self._muting.heard(samples)
        if self._muting.muted and not before and self._listens():
            self._notices.note(_MUTED)
            self._sound("microphone muted")

    def problem(self, text: str) -> None:
        """Something was not entered."""
        self._notices.wrong(text)
        self._sound("not entered")

    def held(self, text: str) -> None:
        """The record refuses what was said: nothing that follows counts until it takes it. Empty: it did."""
        if text:
            self._notices.note(f"held, not entered yet: {text}")
            self._notices.held(f"HELD: {text}; all that is said waits for it")
            self._sound("not entered yet")
        else:
            self._notices.held("")
            self._notices.note("entered now: what was held")

    def moved(self) -> None:
        """Somebody else changed the record. Values never change in silence."""
        self._notices.note(_MOVED)
        self._sound("the record was changed")

    def _sound(self, words: str) -> None:
        self._speaker.tone(Signal.CONTRADICTION)
        self._speaker.say(words, alarm=True)
        self._wake()
