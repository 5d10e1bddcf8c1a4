"""Says what became of an utterance, politely: tones at once, words when nobody speaks, and none that are out of date.

Words wait until it is quiet, give way to newer ones, and are broken off when somebody speaks. What must be known (an
alarm) is not dropped: it waits for its moment.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Final, Protocol

import numpy as np
import soxr

from voicelog.hearing.levels import Samples
from voicelog.speaking.errors import SpeakingError
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.tones import Signal, tone
from voicelog.speaking.voice import SpokenText

_POLL_S: Final = 0.02
_STALE_S: Final = 5.0  # common practice, no source: later it would be taken for the answer to something else
_LOUDER: Final = 10 ** (4 / 20)  # 4 dB: clearly heard as a step


class Speaker(Protocol):
    """Something that lets the examiner hear what became of an utterance."""

    volume: float
    """The peak of what sounds, as a share of full scale."""

    @property
    def is_playing(self) -> bool:
        """Whether anything is sounding or waiting to."""
        ...

    @property
    def is_speaking(self) -> bool:
        """Whether words are sounding."""
        ...

    @property
    def is_settled(self) -> bool:
        """Whether nothing will sound that does not yet, as long as nobody stops speaking."""
        ...

    def tone(self, signal: Signal) -> None:
        """Play a tone now; returns at once."""
        ...

    def say(self, text: str, *, alarm: bool = False) -> None:
        """Speak `text` when nobody speaks, instead of what waits; an alarm is never dropped. Returns at once."""
        ...

    def stop(self) -> None:
        """Break off the words that sound, and forget what waits, alarms apart."""
        ...

    def close(self) -> None:
        """Break off everything, and give back what is held."""
        ...


class Voice(Protocol):
    """Turns text into sound (`voice.SystemVoice`)."""

    def speak(self, text: str) -> SpokenText:
        """`text` as sound. Raises `SpeakingError`."""
        ...


class SilentSpeaker:
    """Says nothing: for recordings, typed lines, and machines without sound."""

    is_playing = False
    is_speaking = False
    is_settled = True
    volume = 0.0

    def tone(self, signal: Signal) -> None:
        """Nothing."""

    def say(self, text: str, *, alarm: bool = False) -> None:
        """Nothing."""

    def stop(self) -> None:
        """Nothing."""

    def close(self) -> None:
        """Nothing."""


class SoundSpeaker:
    """Speaks through a mixer, in a thread of its own.

    `volume` is the peak, 0 to 1, of tones and words alike; without `tones` none sounds, without a `voice` nothing is
    spoken. Words begin when `quiet` is true. What cannot be spoken is skipped and told to `on_problem`.

    Raises `SpeakingError` for a volume outside 0 to 1.
    """

    def __init__(
        self,
        mixer: Mixer,
        voice: Voice | None = None,
        *,
        tones: bool = True,
        volume: float = 0.5,
        quiet: Callable[[], bool] = lambda: True,
        on_problem: Callable[[str], None] = lambda text: None,
    ) -> None:
        self._mixer, self._voice, self._sounds_tones = mixer, voice, tones
        self._quiet, self._on_problem = quiet, on_problem
        self.volume = volume
        self._changed = threading.Condition()
        self._alarms: deque[str] = deque()
        self._text: tuple[str, float] | None = None
        self._busy = self._closing = False
        self._generation = 0
        self._thread = threading.Thread(target=self._work, name="speaker", daemon=True)
        self._thread.start()

    @property
    def volume(self) -> float:
        """The peak of what sounds. Setting it raises `SpeakingError` outside 0 to 1."""
        return self._volume

    @volume.setter
    def volume(self, volume: float) -> None:
        rate_hz = self._mixer.rate_hz
        self._tones = {signal: tone(signal, volume, rate_hz) for signal in Signal}
        self._volume = volume

    def speak_with(self, voice: Voice) -> None:
        """Speak with this voice from now on."""
        self._voice = voice

    @property
    def is_playing(self) -> bool:
        """Whether anything is sounding or waiting to."""
        with self._changed:
            waiting = self._busy or self._text is not None or bool(self._alarms)
        return waiting or self._mixer.is_playing

    @property
    def is_speaking(self) -> bool:
        """Whether words are sounding."""
        return self._mixer.is_speaking

    @property
    def is_settled(self) -> bool:
        """Whether nothing will sound that does not yet, as long as nobody stops speaking."""
        with self._changed:
            return not self._busy and (
                (self._text is None and not self._alarms) or not self._quiet() or self._mixer.is_speaking
            )

    def tone(self, signal: Signal) -> None:
        """Play a tone now; returns at once."""
        if self._sounds_tones:
            self._mixer.play(self._tones[signal])

    def say(self, text: str, *, alarm: bool = False) -> None:
        """Speak `text` when nobody speaks, instead of what waits; an alarm is never dropped. Returns at once."""
        if self._voice is None or not text.strip():
            return
        with self._changed:
            if alarm:
                self._alarms.append(text)
            else:
                self._text = (text, time.monotonic())
            self._changed.notify()

    def stop(self) -> None:
        """Break off the words that sound, and forget what waits, alarms apart."""
        with self._changed:
            self._text = None
            self._generation += 1
        self._mixer.stop()

    def close(self) -> None:
        """Break off everything, and end the thread."""
        with self._changed:
            self._closing = True
            self._alarms.clear()
            self._changed.notify()
        self.stop()
        self._mixer.clear()
        self._thread.join()

    def _work(self) -> None:
        while True:
            with self._changed:
                while not self._closing and not self._may_begin():
                    self._changed.wait(_POLL_S if self._text is not None or self._alarms else None)
                if self._closing:
                    return
                (text, alarm), generation = self._taken(), self._generation
            try:
                self._speak(text, None if alarm else generation)
            except Exception as fault:  # the next words may be spoken again
                self._on_problem(f"{type(fault).__name__}: {fault}")
            with self._changed:
                self._busy = False

    def _may_begin(self) -> bool:
        if self._text is not None and time.monotonic() - self._text[1] > _STALE_S:
            self._text = None
        waits = bool(self._alarms) or self._text is not None
        return waits and self._quiet() and not (self._alarms and self._mixer.is_speaking)

    def _taken(self) -> tuple[str, bool]:
        """What to say, and whether it is an alarm."""
        self._busy = True
        if self._alarms:
            return self._alarms.popleft(), True
        text, self._text = self._text, None
        return ("" if text is None else text[0]), False

    def _speak(self, text: str, generation: int | None) -> None:
        """Speak; of a generation that is over nothing. None: in any case."""
        if self._voice is None:
            return
        try:
            spoken = _spoken(self._voice, text)
        except SpeakingError as error:
            self._on_problem(str(error))
            return
        peak = float(np.max(np.abs(spoken.samples), initial=0.0))
        if peak == 0.0:
            return
        samples = _resampled(spoken, self._mixer.rate_hz) * np.float32(self.volume / peak)
        with self._changed:
            # Somebody spoke meanwhile, or there is something newer to say.
            current = generation == self._generation and self._text is None
            if (generation is None or current) and not self._closing:
                self._mixer.speak(samples, text)


def _spoken(voice: Voice, text: str) -> SpokenText:
    """Tried once more: on a busy computer a system voice may write nothing at first. Raises SpeakingError."""
    try:
        return voice.speak(text)
    except SpeakingError:
        return voice.speak(text)


def louder(volume: float, *, steps: int) -> float:
    """The volume so many steps of 4 dB louder (negative: quieter), between an eighth and full."""
    return min(1.0, max(0.125, volume * _LOUDER**steps))


def _resampled(spoken: SpokenText, rate_hz: int) -> Samples:
    if spoken.rate_hz == rate_hz:
        return spoken.samples
    return np.asarray(soxr.resample(spoken.samples, spoken.rate_hz, rate_hz), np.float32)
