"""What the estimate of all looks begins from: nothing, the spectacles, the age, or an earlier visit's result."""

from collections.abc import Mapping
from itertools import groupby
from typing import ClassVar, Final, Literal

from voicelog.exam.entries.base import BaseFinding, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.earlier import EarlierResult
from voicelog.phrases import meanings as say

StartSource = Literal["nothing", "spectacles", "visit", "age"]
START_WORDS: Final[Mapping[StartSource, str]] = {
    "nothing": "nothing",
    "spectacles": "the spectacles worn",
    "visit": "the last visit",
    "age": "the age",
}


class StartEntry(BaseFinding):
    """What the estimate begins from, from here on. It changes no reading and no result.

    The results of the visit are copied, so that the exam stands by itself.
    """

    said: ClassVar = say.EstimateStart
    title: ClassVar = "estimate starts from"
    code: ClassVar = "estimate-start"

    kind: Literal["estimate_start"] = "estimate_start"
    source: StartSource
    results: tuple[EarlierResult, ...] = ()

    def value_words(self) -> str:
        """ "nothing", "the spectacles worn", "the visit of 2026-05-03 (right -1.00 DS, left -1.25 DS)"."""
        if self.source != "visit":
            return START_WORDS[self.source]
        days = groupby(sorted(self.results, key=lambda each: each.on), key=lambda each: each.on)
        return " and ".join(
            f"the visit of {day} ({', '.join(each.words() for each in found)})" for day, found in days
        )

    @classmethod
    def from_meaning(cls, meaning: say.EstimateStart, context: Context) -> "StartEntry":
        """A visit's results are looked up. Raises NeedsAnswer where there is none."""
        if meaning.source != "visit":
            return cls(source=meaning.source)
        visits = context.earlier()
        if not visits.results:
            raise refuse(f"the estimate cannot start from a visit: {visits.why_none}")
        return cls(source="visit", results=visits.results)
