"""Which recordings are measured, and how: what both measuring commands are given."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from voicelog.hearing.decision import AnyLimits, default_limits
from voicelog.hearing.letter_decision import default_letter_limits
from voicelog.measuring.cache import HearingCache
from voicelog.measuring.errors import MeasuringError
from voicelog.measuring.limits_file import read_limits
from voicelog.measuring.listeners import JOINT, LETTERS
from voicelog.measuring.manifests import (
    EXAM_RULES,
    Expecting,
    Row,
    of_voices,
    read_manifest,
    refuse_missing,
    sampled,
)
from voicelog.measuring.running import Progress, Run
from voicelog.phrases.grammar import Grammar

DEFAULT_CACHE = Path("hearings.jsonl")
_TOLD_EVERY_S = 20.0

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Selection:
    """Which recordings are measured, and how.

    `rules`: for rows that name none, the first that has the transcript as a phrase. `sample`: so many random rows of
    each set, condition, signal-to-noise ratio and split. `phrases_only`: rows of other talk are left out.
    """

    corpora: Sequence[Path]
    rules: Sequence[str] = (EXAM_RULES,)
    split: str = "all"
    voices: Sequence[str] = ()
    sample: int | None = None
    seed: int = 1
    phrases_only: bool = False
    cache: Path = DEFAULT_CACHE
    jobs: int = 1
    renew: bool = False
    limits: Path | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the corpora without the folders of this machine."""
        folders = (place if place.is_dir() else place.parent for place in self.corpora)
        return tuple(folder.resolve().name for folder in folders)

    def rows(self, grammar: Grammar) -> list[Row]:
        """The rows that are measured. Raises MeasuringError when there are none or some cannot be used."""
        expecting = Expecting(grammar, self.rules)
        rows = [row for place in self.corpora for row in read_manifest(place, expecting)]
        rows = of_voices(rows, self.voices)
        rows = [row for row in rows if self.split == "all" or row.split == self.split]
        if self.phrases_only:
            rows = [row for row in rows if row.expected is not None]
        if self.sample is not None:
            rows = sampled(rows, self.sample, self.seed)
        if not rows:
            raise MeasuringError("no row is left to be measured; see --split, --voices and --phrases-only")
        refuse_missing(rows)
        return rows

    def limits_in_force(self, listener: str) -> AnyLimits:
        """Those of the file that was named, or those that are shipped for a listener."""
        if self.limits:
            return read_limits(self.limits)
        return default_letter_limits() if listener in (LETTERS, JOINT) else default_limits()

    def heard(self, rows: Sequence[Row], names: Sequence[str], grammar: Grammar, say: Say) -> Run:
        """A run in which everything is heard; tells `say` how far it is."""
        cache = HearingCache(self.cache)
        if cache.broken_lines:
            say(
                f"{self.cache}: {cache.broken_lines} broken lines were left out; what they held is heard again"
            )
        run = Run(rows, names, cache, grammar, renew=self.renew)
        progress = run.hear(self.jobs, _Telling(say))
        say(
            f"{len(rows)} rows; {progress.heard} utterances heard now in {progress.seconds:.0f} s ({self.cache})"
        )
        if stale := run.stale():
            say(
                f"{stale} hearings are of another version of the recogniser or grammar; --renew hears them again"
            )
        return run


class _Telling:
    """Says how far a run is, every few seconds."""

    def __init__(self, say: Say) -> None:
        self._say = say
        self._next_s = time.monotonic() + _TOLD_EVERY_S

    def __call__(self, progress: Progress) -> None:
        if time.monotonic() >= self._next_s:
            self._next_s = time.monotonic() + _TOLD_EVERY_S
            self._say(
                f"at row {progress.rows_done + 1} of {progress.rows}: {progress.heard} utterances heard "
                f"in {progress.seconds:.0f} s"
            )
