"""The program's own sound in the microphone: taken out of it, and told from somebody who speaks at the same time.

The microphone is never switched off. While the program sounds, and for as long as its echo lasts, each piece of sound
goes through the canceller. What it leaves is somebody's voice where it is clearly louder than the echo that the filter
still expects and than the room's noise; so a barge-in is known within a tenth of a second, and what is said over the
program's voice is heard like anything else.

The second line is time: as long as the canceller has not shown that it takes the echo away, nothing that overlaps the
program's words is trusted (drivers may delay more than the filter is long). When the words are over they are heard once
more (`hearing_again.py`): with their delay and their echo known, what was said over them can mostly be taken after all.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.hearing.utterance import Utterance
from voicelog.speaking.canceller import BLOCK_SAMPLES, SPAN_SAMPLES, Canceller
from voicelog.speaking.clocks import Clock
from voicelog.speaking.delays import LONGEST_S, WINDOW_S
from voicelog.speaking.hearing_again import DIRECT_SAMPLES, Again, Stretch, heard_again
from voicelog.speaking.judging import (
    TALKING_S,
    Judged,
    Piece,
    Sounding,
    joined,
    judged,
    judged_again,
    put_into,
)
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.trust import Left, Noise, Proof, power

_ECHO_S: Final = 0.4
"""How long after its last sound the program may be heard: as long as the canceller's filter."""
_ECHO_AT_FIRST_S: Final = LONGEST_S
"""The same as long as nobody knows how much the drivers delay."""
_MOVED_SAMPLES: Final = 800  # 50 ms: reflections may be stronger than the first sound
_RESYNC_SAMPLES: Final = (
    160  # 10 ms: drivers hand sound over in pieces, so that its time is known to half of that
)
_STOOD_STILL_SAMPLES: Final = 320  # 20 ms
_UNTRAINED: Final = 10.0  # 10 dB: what the filter knows of its own error is too little at first
_BEHIND_SAMPLES: Final = (
    480  # 30 ms: what was pulled just now is not resampled yet, and has not sounded either
)
_TRAINED_S: Final = 3.0  # of own words; then it was right to 6 dB
_WITHIN_S: Final = 0.4
_REMEMBERED_S: Final = 120.0


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
        self._stretches: deque[Sounding] = deque()
        self._now: Sounding | None = None
        self._noise = Noise()
        self._proof = Proof()
        self._timed: Sounding | None = None
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
            self._end()
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
            yield replace(block, samples=joined(done), start_sample=start)

    @property
    def barged_in(self) -> bool:
        """Whether somebody talks over the words that sound now."""
        now = self._now
        if now is None or not now.words or not now.trusted:
            return False
        last = now.pieces[-round(_WITHIN_S * SAMPLE_RATE_HZ / BLOCK_SAMPLES) :]
        return sum(piece.near for piece in last) * BLOCK_SAMPLES >= TALKING_S * SAMPLE_RATE_HZ

    def judge(self, utterance: Utterance) -> Judged:
        """What of an utterance is somebody's, as far as is known now."""
        return judged(utterance, self._words_over(utterance))

    def settle(self, utterance: Utterance) -> list[Judged]:
        """What of an utterance that has ended is somebody's; where that is doubtful the sound is heard again."""
        over = self._words_over(utterance)
        if not any(each.is_doubtful for each in over):
            return [judged(utterance, over)]
        found = {id(each): again for each in over if (again := self._heard_again(each)) is not None}
        if len(found) < len(over):
            return [judged(utterance, over)]
        sound, anew = utterance.samples.copy(), list[Sounding]()
        for each in over:
            again = found[id(each)]
            put_into(sound, utterance.padded_start_sample, again.samples, each.start)
            places = range(each.start, each.end, BLOCK_SAMPLES)
            pieces = [
                Piece(at, left.near, left.clean) for at, left in zip(places, again.blocks, strict=False)
            ]
            anew.append(replace(each, pieces=pieces, trusted=True))
        return judged_again(utterance, sound, anew)

    def _words_over(self, utterance: Utterance) -> list[Sounding]:
        start, end = utterance.span
        return [each for each in self._stretches if each.words and each.start < end and each.end > start]

    def _heard_again(self, sounding: Sounding) -> Again | None:
        """A stretch as far as it has come; what is learned of it is kept where nothing newer has come since."""
        base, shift = self._base(), self._shift
        if base is None or shift is None:
            return None
        stretch = Stretch(joined(sounding.heard), sounding.start, self._mixer.played, base, self._noise.power)
        again = heard_again(stretch, self._canceller, shift)
        if again is not None and sounding is self._stretches[-1]:
            self._canceller, self._shift = again.canceller, again.shift
            self._behind = max(_BEHIND_SAMPLES, base - again.shift)
            self._turn(base - self._behind)
            self._proof.trusted = sounding.trusted = True
        return again

    def _sounds(self, start: int) -> bool:
        """Whether own sound may be heard from the microphone's sample `start` on; begins and ends stretches."""
        last, base = self._mixer.last_sound, self._base()
        if last < 0 or base is None:
            return False
        shift = base - self._behind
        if self._now is not None and self._shift is not None:
            if abs(shift - self._shift) > _STOOD_STILL_SAMPLES:  # one of the two streams did
                self._doubt(shift)
                self._now.sure = self._now.trusted = False
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
            self._doubt(shift)
        trusted = self._proof.trusted
        self._now = Sounding(start, start, words=False, trusted=trusted, sure=trusted)
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
        left = Left(self._canceller.clean(reference, heard), self._noise.power, self._caution())
        now.pieces.append(Piece(start, left.near, left.clean))
        now.heard.append(heard)
        now.end = start + BLOCK_SAMPLES
        if self._mixer.is_speaking:
            now.words, now.text = True, self._mixer.text
        self._time(now, start)
        self._trained_s += BLOCK_SAMPLES / SAMPLE_RATE_HZ if now.words and np.any(reference) else 0.0
        self._proof.heard(power(heard), left.cleaned.power, self._noise.power)
        now.trusted = now.trusted or self._proof.trusted
        now.shown = self._proof.is_shown
        return left.samples

    def _time(self, now: Sounding, start: int) -> None:
        """Once in a stretch, when enough words were heard: see to it that the filter spans the delay.

        Where the canceller works it does, and a voice could only mislead.
        """
        size = len(now.heard) * BLOCK_SAMPLES
        step = round(WINDOW_S * SAMPLE_RATE_HZ) // BLOCK_SAMPLES // 2
        base = self._base()
        if self._timed is now or not now.words or self._proof.works or base is None:
            return
        if size < WINDOW_S * SAMPLE_RATE_HZ or len(now.heard) % step:
            return
        last = joined(now.heard[-2 * step :])
        place = start + BLOCK_SAMPLES - last.size
        delays = Stretch(last, place, self._mixer.played, base, self._noise.power).delays()
        if not delays:  # somebody else, or nothing yet
            return
        self._timed, delay = now, delays[-1][1]
        behind = max(_BEHIND_SAMPLES, delay - DIRECT_SAMPLES)
        if abs(behind - self._behind) > _MOVED_SAMPLES:
            self._behind = behind
            self._turn(base - behind)

    def _doubt(self, shift: int) -> None:
        """The sound comes at another time than before, which is known only roughly: it must be shown to be gone."""
        if self._shift is not None:
            self._proof.doubt()
        self._turn(shift)

    def _turn(self, shift: int) -> None:
        """Take the reference from another place, and what was learned along as far as the filter spans it."""
        moved, self._shift = 0 if self._shift is None else shift - self._shift, shift
        if abs(moved) < SPAN_SAMPLES:
            self._canceller.delay(moved)
        else:  # a driver stood still for long
            self._canceller, self._trained_s = Canceller(), 0.0

    def _caution(self) -> float:
        """By how much the echo that may be left is reckoned too small."""
        return float(_UNTRAINED ** max(0.0, 1.0 - self._trained_s / _TRAINED_S))
