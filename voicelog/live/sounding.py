"""What a live exam sounds with: mixer, loudspeaker and voice, or silence where a recording is listened to."""

from collections.abc import Callable
from typing import Protocol

from voicelog.errors import MissingPartError
from voicelog.live.notices import Notices
from voicelog.live.options import LiveOptions
from voicelog.speaking.clocks import Clock
from voicelog.speaking.loudspeaker import RATE_HZ, Loudspeaker
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.own_sound import OwnSound
from voicelog.speaking.speaker import SilentSpeaker, SoundSpeaker, Speaker
from voicelog.speaking.voice import SystemVoice


class Closing(Protocol):
    """Something that is given back."""

    def close(self) -> None:
        """Give it back."""
        ...


Plays = Callable[[Mixer, Clock, Callable[[str], None]], Closing]
"""Begins to play a mixer, and tells the clock what was pulled when."""


def _play(mixer: Mixer, pulled: Clock, on_problem: Callable[[str], None]) -> Closing:
    return Loudspeaker(mixer, pulled, on_problem=on_problem)


class Sounding:
    """Opens what the options ask for; `close` gives it back. Words wait until `quiet`.

    Without a system voice there are tones only, which is noted. Raises MissingPartError without PortAudio,
    SpeakingError for a volume outside 0 to 1.
    """

    def __init__(
        self, options: LiveOptions, notices: Notices, *, quiet: Callable[[], bool], plays: Plays | None = None
    ) -> None:
        self._notices = notices
        mixer, pulled = Mixer(RATE_HZ), Clock(RATE_HZ)
        self.own = OwnSound(mixer, pulled, heard=not options.headset)
        """Knows what was played, and takes it out of what the microphone hears."""
        self.speaker: Speaker = SilentSpeaker()
        self._voice: SystemVoice | None = None
        self._loudspeaker: Closing | None = None
        if options.source is not None:
            return
        self.speaker = SoundSpeaker(
            mixer, tones=options.tones, volume=options.volume, quiet=quiet, on_problem=self._unheard
        )
        if options.read_back != "off":
            try:
                self.open_voice()
            except MissingPartError as error:
                notices.note(f"no read-back, tones only: {error}")
        self._loudspeaker = (plays or _play)(mixer, pulled, self._unheard)

    def open_voice(self) -> None:
        """Have words spoken from now on, where anything sounds. Raises MissingPartError without a system voice."""
        if self._voice is None and isinstance(self.speaker, SoundSpeaker):
            self._voice = SystemVoice()
            self.speaker.speak_with(self._voice)

    def close(self) -> None:
        """Break off what sounds, and give everything back."""
        self.speaker.close()
        for part in (self._loudspeaker, self._voice):
            if part is not None:
                part.close()

    def _unheard(self, text: str) -> None:
        self._notices.note(f"not heard: {text}")
