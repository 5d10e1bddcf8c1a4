"""Tones that say what became of an utterance, synthesised here.

Each is told from the others by how many pulses it has and how long they are, so that it needs no ear for
pitch: short; short short; one long and soft; long short short. Pitch only adds to it. It stays below 1 kHz,
where hearing lasts longest (ISO 7029 gives the loss with age; from memory), and above 580 Hz: lower ones
the end-pointer takes for a hummed vowel. All last 0.35 s at most: the next entry may follow at once. None
has the three equal pulses of an alarm of medium priority (IEC 60601-1-8; from memory), since the room may
have devices that sound alarms.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.speaking.errors import SpeakingError

_ATTACK_S = 0.008
_DECAY_S = 0.015
_OVERTONE = 0.25  # share of the octave above: small loudspeakers hardly give the ground tone


class Signal(StrEnum):
    """What a tone says."""

    ACCEPTED = "accepted"
    ASKED = "asked"
    IGNORED_BUT_CLOSE = "ignored_but_close"
    CONTRADICTION = "contradiction"


@dataclass(frozen=True, slots=True)
class Pulse:
    """A tone of one pitch, and the silence after it."""

    frequency_hz: float
    length_s: float
    pause_s: float = 0.0


PATTERNS: dict[Signal, tuple[Pulse, ...]] = {
    Signal.ACCEPTED: (Pulse(880.0, 0.09),),
    Signal.ASKED: (Pulse(659.0, 0.09, 0.08), Pulse(988.0, 0.09)),
    Signal.IGNORED_BUT_CLOSE: (Pulse(587.0, 0.3),),
    Signal.CONTRADICTION: (Pulse(784.0, 0.15, 0.05), Pulse(622.0, 0.05, 0.04), Pulse(622.0, 0.05)),
}
_STRENGTH = {Signal.IGNORED_BUT_CLOSE: 0.5}


def tone(signal: Signal, volume: float, rate_hz: int) -> Samples:
    """The tone for `signal`, shape (n,), float32, mono, at `rate_hz`.

    `volume` is the peak as a share of full scale, 0 (silent) to 1; `IGNORED_BUT_CLOSE` has half of it.
    Raises `SpeakingError` for a volume outside that.
    """
    if not 0.0 <= volume <= 1.0:
        raise SpeakingError(f"volume is {volume:g}, allowed 0 to 1")
    pieces = [piece for pulse in PATTERNS[signal] for piece in _pulse(pulse, rate_hz)]
    sound = np.concatenate(pieces)
    scale = volume * _STRENGTH.get(signal, 1.0) / float(np.max(np.abs(sound)))
    return sound * np.float32(scale)


def _pulse(pulse: Pulse, rate_hz: int) -> tuple[Samples, Samples]:
    """The pulse with soft ends (raised cosines), and its pause."""
    count = round(pulse.length_s * rate_hz)
    phase = 2.0 * np.pi * pulse.frequency_hz * np.arange(count) / rate_hz
    wave = np.sin(phase) + _OVERTONE * np.sin(2.0 * phase)
    attack, decay = round(_ATTACK_S * rate_hz), round(_DECAY_S * rate_hz)
    envelope = np.ones(count)
    envelope[:attack] = 0.5 - 0.5 * np.cos(np.pi * np.arange(attack) / attack)
    envelope[count - decay :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, decay + 1) / decay)
    pause = np.zeros(round(pulse.pause_s * rate_hz))
    return (wave * envelope).astype(np.float32), pause.astype(np.float32)
