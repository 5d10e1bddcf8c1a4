"""What of an utterance is somebody's, and what the program's own words."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from voicelog.hearing.endpointing import utterances
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.hearing.utterance import Utterance
from voicelog.speaking.canceller import BLOCK_SAMPLES

TALKING_S: Final = 0.1
_WHOLE_SHARE: Final = 0.9
_SAME_EDGE_SAMPLES: Final = SAMPLE_RATE_HZ // 10

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


@dataclass(frozen=True, slots=True)
class Piece:
    """A block of the canceller: whether somebody spoke in it, and how clearly."""

    start: int
    near: bool
    clean: bool


@dataclass(slots=True)
class Sounding:
    """From the first own sound to the end of its echo, on the microphone's counter.

    `sure`: the canceller had shown before that it works, and its delay was the one of before; `shown`: it has shown it
    of this stretch.
    """

    start: int
    end: int
    words: bool
    trusted: bool
    sure: bool
    shown: bool = False
    text: str = ""
    pieces: list[Piece] = field(default_factory=list)
    heard: list[Samples] = field(default_factory=list)
    """The microphone's sound in it, own sound included; while it may be heard again."""

    @property
    def is_doubtful(self) -> bool:
        """Whether what was left of it may be echo after all."""
        return not (self.sure and self.shown)


def judged(utterance: Utterance, over: Sequence[Sounding]) -> Judged:
    """What of an utterance is somebody's; `over` are the words that it overlaps, in order."""
    if not over:
        return Judged("clear", utterance)
    start, end = utterance.span
    spoken = " ".join(each.text for each in over)
    if not all(each.trusted for each in over):
        rest = utterance.after(min(end, over[-1].end))
        return (
            Judged("rest", rest) if rest is not None and rest.whole else Judged("drowned", utterance, spoken)
        )
    near = [piece for piece in _pieces(over, start, end) if piece.near]
    if len(near) * BLOCK_SAMPLES >= TALKING_S * SAMPLE_RATE_HZ:
        return Judged("over", as_whole_as(utterance, near), spoken)
    if _beside(utterance, over) < TALKING_S * SAMPLE_RATE_HZ:
        return Judged("own", None)
    return Judged("rest", utterance.after(min(end, over[-1].end)) or utterance)


def judged_again(utterance: Utterance, cleaned: Samples, over: Sequence[Sounding]) -> list[Judged]:
    """What an utterance is when its sound, `cleaned`, was heard once more; `over` has what that showed.

    Where it was the program's words that held two things together, it is two.
    """
    spoken = " ".join(each.text for each in over)
    block = Block(cleaned, utterance.padded_start_sample, utterance.end_arrived_s)
    found = []
    for each in utterances([block]):
        near = [piece for piece in _pieces(over, *each.span) if piece.near]
        beside = _beside(each, over)
        if max(len(near) * BLOCK_SAMPLES, beside) < TALKING_S * SAMPLE_RATE_HZ:
            continue
        part = replace(
            as_whole_as(each, near),
            index=utterance.index,
            end_arrived_s=utterance.end_arrived_s,
            ending=utterance.ending if _same(each.end_sample, utterance.end_sample) else "pause",
        )
        if _same(each.start_sample, utterance.start_sample) and part.beginning != "gap":
            part = replace(part, beginning=utterance.beginning)
        found.append(Judged("over", part, spoken))
    return found or [Judged("own", None, spoken)]


def as_whole_as(utterance: Utterance, near: Sequence[Piece]) -> Utterance:
    """The utterance, marked as not whole where the program's sound may have covered some of it."""
    whole = sum(piece.clean for piece in near) >= _WHOLE_SHARE * len(near)
    return utterance if whole else replace(utterance, beginning="gap")


def _pieces(over: Sequence[Sounding], start: int, end: int) -> Iterator[Piece]:
    for each in over:
        yield from (piece for piece in each.pieces if start - BLOCK_SAMPLES < piece.start < end)


def _beside(utterance: Utterance, over: Sequence[Sounding]) -> int:
    """How many samples of it are beside all own sound."""
    start, end = utterance.span
    return end - start - sum(max(0, min(end, each.end) - max(start, each.start)) for each in over)


def _same(one: int, other: int) -> bool:
    return abs(one - other) < _SAME_EDGE_SAMPLES


def put_into(sound: Samples, start: int, part: Samples, part_start: int) -> None:
    """Write a part of a stream over the sound that begins at `start`, as far as they overlap."""
    low, high = max(start, part_start), min(start + sound.size, part_start + part.size)
    if low < high:
        sound[low - start : high - start] = part[low - part_start : high - part_start]


def joined(pieces: Sequence[Samples]) -> Samples:
    """One behind the other."""
    return np.concatenate(pieces) if pieces else np.zeros(0, np.float32)
