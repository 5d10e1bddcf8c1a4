"""One stretch of speech cut out of a stream, and what of it is whole."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from voicelog.hearing.levels import Samples, clipped_fraction, measure

Edge: TypeAlias = Literal["pause", "stream", "limit", "gap"]
"""What bounds an utterance: a pause; the start or end of the stream; the cut at the greatest length; sound
that is missing (or was drowned by the program's own speech)."""

Span: TypeAlias = tuple[int, int]
"""[start, end) on the source's sample counter."""


@dataclass(frozen=True, slots=True, eq=False)
class Utterance:
    """Speech between two pauses, with the padding that was there.

    All places are samples on the source's counter (16 kHz).
    """

    index: int
    """Counts finished utterances from 0; a draft has the index its finished form will have."""
    samples: Samples
    """Shape (n,), float32: padding, speech, padding."""
    start_sample: int
    """First sample of the speech; `samples` start `pad_before` earlier."""
    end_sample: int
    """One past the last sample of the speech; `samples` end `pad_after` later."""
    pad_before: int
    pad_after: int
    """Samples of padding; fewer than asked for at the edge of the sound or beside another utterance."""
    beginning: Edge
    ending: Edge
    runs: tuple[Span, ...]
    """Where in it somebody speaks: spans between pauses of 0.1 s and more."""
    clipped_fraction: float
    """Share of all samples that reach full scale."""
    peak_dbfs: float
    rms_dbfs: float
    """Level of the speech without its padding."""
    end_arrived_s: float
    """`time.monotonic()` when the end of the speech had been captured; latency is counted from here."""
    over_own: bool = False
    """The program itself spoke meanwhile."""

    @property
    def span(self) -> Span:
        """The speech, without padding."""
        return (self.start_sample, self.end_sample)

    @property
    def padded_start_sample(self) -> int:
        """Place of `samples[0]`."""
        return self.start_sample - self.pad_before

    @property
    def padded_end_sample(self) -> int:
        """Place one past `samples[-1]`."""
        return self.end_sample + self.pad_after

    @property
    def whole(self) -> bool:
        """False if words may be missing at either end: then a value in it must be asked about."""
        return self.beginning in ("pause", "stream") and self.ending in ("pause", "stream")

    def after(self, sample: int, min_rest_samples: int = 3200) -> "Utterance | None":
        """What remains when everything before `sample` is disregarded; None if that is nothing.

        Runs that begin at `sample` or later remain whole. A run that straddles `sample` by at least
        `min_rest_samples` (0.2 s, the shortest words) remains in part, and the result is not `whole`; a
        shorter rest is the echo of what was before.
        """
        if sample <= self.start_sample:
            return self
        kept = tuple(run for run in self.runs if run[0] >= sample)
        straddling = [run for run in self.runs if run[0] < sample and run[1] >= sample + min_rest_samples]
        if straddling:
            return self._part(sample, sample, "gap", ((sample, straddling[0][1]), *kept))
        if not kept:
            return None
        padded_start = max(sample, kept[0][0] - max(self.pad_before, self.pad_after))
        return self._part(padded_start, kept[0][0], "pause", kept)

    def _part(self, padded_start: int, start: int, beginning: Edge, runs: tuple[Span, ...]) -> "Utterance":
        samples = self.samples[padded_start - self.padded_start_sample :]
        speech = samples[start - padded_start : samples.size - self.pad_after]
        level = measure(speech)
        return replace(
            self,
            samples=samples,
            start_sample=start,
            pad_before=start - padded_start,
            beginning=beginning,
            runs=runs,
            clipped_fraction=clipped_fraction(samples),
            peak_dbfs=level.peak_dbfs,
            rms_dbfs=level.rms_dbfs,
        )


def merged(spans: Iterable[Span], max_gap: int) -> tuple[Span, ...]:
    """Spans in order, those at most `max_gap` samples apart joined."""
    joined: list[Span] = []
    for start, end in spans:
        if joined and start - joined[-1][1] <= max_gap:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return tuple(joined)
