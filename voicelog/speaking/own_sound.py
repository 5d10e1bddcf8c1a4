"""The program's own sound in the microphone: taken out of it, and told from somebody who speaks at the same time.

The microphone is never switched off. While the program sounds, and for as long as its echo lasts, each piece of sound
goes through the canceller. What it leaves is somebody's voice where it is clearly louder than the echo that the filter
still expects and than the room's noise; so a barge-in is known within a tenth of a second, and what is said over the
program's voice is heard like anything else.

The second line is time: as long as the canceller has not shown that it takes the echo away, nothing that overlaps the
program's words is trusted (drivers may delay more than the filter is long).
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.hearing.utterance import Utterance
from voicelog.speaking.canceller import BLOCK_SAMPLES, Canceller
from voicelog.speaking.clocks import Clock
from voicelog.speaking.delays import LONGEST_S, WINDOW_S, delay_samples, longest_samples
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.trust import OVER_NOISE, Noise, Proof, power

_ECHO_S: Final = 0.4
"""How long after its last sound the program may be heard: as long as the canceller's filter."""
_ECHO_AT_FIRST_S: Final = LONGEST_S
"""The same as long as nobody knows how much the drivers delay."""
_DIRECT_SAMPLES: Final = (
    320  # where in the filter the first sound is put: 20 ms, so that a little less can be, too
)
_MOVED_SAMPLES: Final = 800  # 50 ms: reflections may be stronger than the first sound
_RESYNC_SAMPLES: Final = 80  # 5 ms; clocks of two devices part by 50 parts in a million and more
_OVER_RESIDUAL: Final = 4.0  # 6 dB
_OF_ECHO: Final = 0.05  # -13 dB: a loudspeaker is never so straight that a filter could explain all of it
_UNTRAINED: Final = 10.0  # 10 dB: what the filter knows of its own error is too little at first
_BEHIND_SAMPLES: Final = (
    480  # 30 ms: what was pulled just now is not resampled yet, and has not sounded either
)
_TRAINED_S: Final = 3.0  # of own words; then it was right to 6 dB
_CLEAN: Final = 10.0  # a voice so much stronger than what may be left of the echo is as good as alone: 10 dB
_WHOLE_SHARE: Final = 0.9
_TALKING_S: Final = 0.1
_WITHIN_S: Final = 0.4
_REMEMBERED_S: Final = 120.0

Kind = Literal["clear", "own", "over", "rest", "drowned"]


@dataclass(frozen=True, slots=True)
class Judged:
    """What an utterance is: free of the program's sound; nothing but it; said over it; a rest behind it;
    or not to be told from it (drowned).

    `utterance` is what of it counts; None where nothing does. `spoken` is what the program said meanwhile.
    """

    kind: Kind
    utterance: Utterance | None
    spoken: str = ""


@dataclass(slots=True)
class _Piece:
    """A block of the canceller: whether somebody spoke in it, and how clearly."""

    start: int
    near: bool
    clean: bool


@dataclass(slots=True)
class _Stretch:
    """From the first own sound to the end of its echo, on the microphone's counter."""

    start: int
    end: int
    words: bool
    trusted: bool
    pieces: list[_Piece]
    text: str = ""
    heard: list[Samples] = field(default_factory=list)
    is_timed: bool = False


class OwnSound:
    """Feed it each block of the source; from one thread. `heard` False (a headset): it changes nothing."""

    def __init__(self, mixer: Mixer, pulled: Clock, *, heard: bool = True) -> None:
        self._mixer, self._pulled, self._heard = mixer, pulled, heard
        self._captured = Clock(SAMPLE_RATE_HZ)
        self._canceller = Canceller()
        self._shift: int | None = None
        self._behind = _BEHIND_SAMPLES
        self._rest: Samples = np.zeros(0, np.float32)
        self._rest_start = 0
        self._stretches: deque[_Stretch] = deque()
        self._now: _Stretch | None = None
        self._noise = Noise()
        self._proof = Proof()
        self._trained_s = 0.0

    def cleaned(self, block: Block) -> Iterator[Block]:
        """The block without the program's own sound, at most 16 ms of it held back for the next."""
        if not self._heard:
            yield block
            return
        if block.after_gap or block.start_sample != self._rest_start + self._rest.size:
            if self._rest.size:
                yield Block(self._rest, self._rest_start, block.arrived_s)
            self._captured = Clock(SAMPLE_RATE_HZ)
            self._rest, self._rest_start = np.zeros(0, np.float32), block.start_sample
        self._captured.note(block.end_sample, block.arrived_s)
        sound = np.concatenate([self._rest, block.samples])
        start, done = self._rest_start, list[Samples]()
        count = 0
        while sound.size - count >= BLOCK_SAMPLES and self._sounds(start + count):
            done.append(self._piece(sound[count : count + BLOCK_SAMPLES], start + count))
            count += BLOCK_SAMPLES
        if not self._sounds(start + count):
            rest = sound[count:]
            self._noise.heard(rest)
            done.append(rest)
            count = sound.size
        self._rest, self._rest_start = sound[count:], start + count
        if done or block.after_gap:
            yield replace(block, samples=_joined(done), start_sample=start)

    @property
    def barged_in(self) -> bool:
        """Whether somebody talks over the words that sound now."""
        now = self._now
        if now is None or not now.words or not now.trusted:
            return False
        last = now.pieces[-round(_WITHIN_S * SAMPLE_RATE_HZ / BLOCK_SAMPLES) :]
        return sum(piece.near for piece in last) * BLOCK_SAMPLES >= _TALKING_S * SAMPLE_RATE_HZ

    def judge(self, utterance: Utterance) -> Judged:
        """What of an utterance is somebody's."""
        start, end = utterance.span
        over = [each for each in self._stretches if each.words and each.start < end and each.end > start]
        if not over:
            return Judged("clear", utterance)
        if not all(each.trusted for each in over):
            rest = utterance.after(min(end, over[-1].end))
            if rest is not None and rest.whole:
                return Judged("rest", rest)
            return Judged("drowned", utterance, " ".join(each.text for each in over))
        pieces = [
            piece for each in over for piece in each.pieces if start - BLOCK_SAMPLES < piece.start < end
        ]
        near = [piece for piece in pieces if piece.near]
        own = sum(min(end, each.end) - max(start, each.start) for each in over)
        if len(near) * BLOCK_SAMPLES >= _TALKING_S * SAMPLE_RATE_HZ:
            whole = sum(piece.clean for piece in near) >= _WHOLE_SHARE * len(near)
            kept = utterance if whole else replace(utterance, beginning="gap")
            return Judged("over", kept, " ".join(each.text for each in over))
        if end - start - own < _TALKING_S * SAMPLE_RATE_HZ:
            return Judged("own", None)
        return Judged("rest", utterance.after(min(end, over[-1].end)) or utterance)

    def _sounds(self, start: int) -> bool:
        """Whether own sound may be heard from the microphone's sample `start` on; begins and ends stretches."""
        last, base = self._mixer.last_sound, self._base()
        if last < 0 or base is None:
            return False
        shift = base - self._behind
        if self._now is not None and self._shift is not None:
            if abs(shift - self._shift) > _MOVED_SAMPLES:  # one of the two streams stood still
                self._turn(shift)
            shift = self._shift
        echo_s = _ECHO_S if self._proof.works else _ECHO_AT_FIRST_S
        if start + shift >= last + echo_s * SAMPLE_RATE_HZ:
            self._end()
            return False
        if self._now is None:
            self._begin(start, shift)
        return True

    def _base(self) -> int | None:
        """What must be added to a place of the microphone for the place of what was pulled at that time."""
        captured, pulled = self._captured.began_s, self._pulled.began_s
        return None if captured is None or pulled is None else round((captured - pulled) * SAMPLE_RATE_HZ)

    def _begin(self, start: int, shift: int) -> None:
        if self._shift is None or abs(shift - self._shift) > _RESYNC_SAMPLES:
            self._turn(shift)
        self._now = _Stretch(start, start, False, self._proof.trusted, [])
        self._stretches.append(self._now)
        while self._stretches[0].end < start - _REMEMBERED_S * SAMPLE_RATE_HZ:
            self._stretches.popleft()

    def _end(self) -> None:
        if self._now is not None:
            if self._now.words:
                self._proof.end()
            self._now = None

    def _piece(self, heard: Samples, start: int) -> Samples:
        now, shift = self._now, self._shift
        if now is None or shift is None:
            return heard
        reference = self._mixer.played(start + shift, BLOCK_SAMPLES)
        found = self._canceller.clean(reference, heard)
        left = max(self._caution() * found.residual_power, _OF_ECHO * found.echo_power)
        near = found.power > _OVER_RESIDUAL * left + OVER_NOISE * self._noise.power
        clean = found.power > _CLEAN * left
        now.pieces.append(_Piece(start, near, clean))
        now.end = start + BLOCK_SAMPLES
        if self._mixer.is_speaking:
            now.words, now.text = True, self._mixer.text
        self._time(now, heard, start)
        self._trained_s += BLOCK_SAMPLES / SAMPLE_RATE_HZ if now.words and np.any(reference) else 0.0
        self._proof.heard(power(heard), found.power, self._noise.power)
        now.trusted = now.trusted or self._proof.trusted
        if near:
            return found.samples
        # What may well be left of the echo is made quiet, so that it does not pass for speech.
        share = 1.0 - (left + self._noise.power) / max(found.power, 1e-12)
        return found.samples * np.float32(np.sqrt(min(1.0, max(0.01, share))))

    def _time(self, now: _Stretch, heard: Samples, start: int) -> None:
        """Once in a stretch, when enough words were heard: see to it that the filter spans the delay.

        Where the canceller works it does, and a voice could only mislead.
        """
        if now.is_timed or not now.words or self._proof.works:
            return
        now.heard.append(heard)
        count, longest = len(now.heard) * BLOCK_SAMPLES, longest_samples()
        base = self._base()
        if base is None or count < WINDOW_S * SAMPLE_RATE_HZ:
            return
        first = start + BLOCK_SAMPLES - count + base - longest
        delay = delay_samples(self._mixer.played(first, longest + count), np.concatenate(now.heard))
        if delay is None:
            del now.heard[
                : len(now.heard) // 2
            ]  # what came first may have been somebody else, or nothing yet
            return
        now.is_timed = True
        behind = max(_BEHIND_SAMPLES, delay - _DIRECT_SAMPLES)
        if abs(behind - self._behind) > _MOVED_SAMPLES:
            self._behind = behind
            self._turn(base - behind)

    def _turn(self, shift: int) -> None:
        """Take the reference from another place, and what was learned along."""
        if self._shift is not None:
            self._canceller.delay(shift - self._shift)
        self._shift = shift

    def _caution(self) -> float:
        """By how much the echo that may be left is reckoned too small."""
        return float(_UNTRAINED ** max(0.0, 1.0 - self._trained_s / _TRAINED_S))


def _joined(pieces: list[Samples]) -> Samples:
    return np.concatenate(pieces) if pieces else np.zeros(0, np.float32)
