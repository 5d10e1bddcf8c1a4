"""What is known of an eye before its looks, where the estimate is to begin from it. The plain result never does."""

from dataclasses import dataclass, replace
from typing import Final

from voicelog.exam.entries import AgeEntry, Dryness, EarlierResult, SpectaclesEntry, StartEntry, StartSource
from voicelog.exam.entries.age import GREATEST_YEARS
from voicelog.exam.findings import Findings
from voicelog.optics import SpheroCylinder
from voicelog.optics.belief import WIDE_PRIOR, Prior, age_prior, earlier_prior, spectacles_prior
from voicelog.phrases.meanings import OneEye

_DAYS_A_YEAR: Final = 365.25
_MONTHS_A_YEAR: Final = 12.0


@dataclass(frozen=True, slots=True)
class KnownBefore:
    """What the estimate of one eye is to begin from, and what there is of it.

    results    of this eye at earlier visits
    worn       what its spectacles measure
    age_years  as it was said; None: it was not
    age_words  the same in words
    """

    source: StartSource = "nothing"
    results: tuple[EarlierResult, ...] = ()
    worn: SpheroCylinder | None = None
    age_years: float | None = None
    age_words: str = ""

    def prior(self, condition: Dryness) -> Prior:
        """What is held of the eye before its looks, dry or under cycloplegia; its name says what it rests on."""
        if self.source == "spectacles":
            return (
                _nothing("no spectacles were entered") if self.worn is None else spectacles_prior(self.worn)
            )
        if self.source == "age":
            return (
                _nothing("no age was entered")
                if self.age_years is None
                else age_prior(self.age_years, self.age_words)
            )
        if self.source == "nothing":
            return WIDE_PRIOR
        found = next((each for each in self.results if each.condition == condition), None)
        if found is None:
            return _nothing(f"no earlier {condition} result of this eye")
        years = found.days_ago / _DAYS_A_YEAR
        return earlier_prior(found.lens, on=str(found.on), years=years, age_years=self.age_years)


NOTHING_BEFORE: Final = KnownBefore()


def known_before(findings: Findings, eye: OneEye) -> KnownBefore:
    """What the findings of an exam make of it."""
    start = findings.last(StartEntry)
    if start is None or start.source == "nothing":
        return NOTHING_BEFORE
    worn, age = findings.last(SpectaclesEntry, eye), findings.last(AgeEntry)
    return KnownBefore(
        start.source,
        tuple(each for each in start.results if each.eye == eye),
        None if worn is None else worn.lens,
        # An age of 120 years may have months behind it.
        None if age is None else min(float(GREATEST_YEARS), age.between_months[0] / _MONTHS_A_YEAR),
        "" if age is None else age.value_words(),
    )


def before_distance(known: KnownBefore) -> Prior:
    """What is held while no distance is known: an earlier result is net, and says nothing of the lenses in hand."""
    return WIDE_PRIOR if known == NOTHING_BEFORE else _nothing("the distance was not said")


def _nothing(why: str) -> Prior:
    return replace(WIDE_PRIOR, name=f"{WIDE_PRIOR.name} ({why})")
