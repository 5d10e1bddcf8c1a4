"""Which limits that go by age a value is above: at a known age, at one that may fit, or at none."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from voicelog.exam.entries import AgeEntry
from voicelog.exam.guidance import AgeLimit, Band, Subject, data
from voicelog.exam.state import ExamState
from voicelog.phrases.meanings import OneEye

_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Exceeded:
    """A value above a limit, as its finding says it; `months` are the ages at which it is, first and last."""

    limit: AgeLimit
    value: float
    months: tuple[int, int]
    certain: bool

    @property
    def finding(self) -> str:
        """What was found, with the ages where these are not certain."""
        found = self.limit.finding.format(value=self.value)
        return found if self.certain else f"if {ages(*self.months)}: {found}"


def noted_age(state: ExamState) -> AgeEntry | None:
    """The age that was said last."""
    return state.findings.last(AgeEntry)


def exceeded(on: Subject, measure: str, value: float, age: AgeEntry | None) -> Iterator[Exceeded]:
    """The limits that a value is above at this age; without an age, those it would be above at any.

    An age in years covers twelve months; where these lie in several bands, what holds for some of them says so.
    """
    least, most = age.between_months if age is not None else (0, 10_000)
    for limit in data().age_limit:
        if (limit.on, limit.measure) != (on, measure):
            continue
        above = [band for band in limit.bands if value > band.above + _SLACK and _meet(band, least, most)]
        for together in _runs(above):
            months = (together[0].from_months, together[-1].below_months - 1)
            certain = months[0] <= least and most <= months[1]
            yield Exceeded(limit, value, (max(months[0], least), min(months[1], most)), certain)


def ages(first: int, last: int) -> str:
    """ "31 to 48 months old"; in years where both ends are whole ones: "4 to 6 years old"."""
    if first % 12 == 0 and (last + 1) % 12 == 0 and first >= 24:
        years = (first // 12, (last + 1) // 12 - 1)
        return f"{years[0]} years old" if years[0] == years[1] else f"{years[0]} to {years[1]} years old"
    return f"{first} months old" if first == last else f"{first} to {last} months old"


def _meet(band: Band, least: int, most: int) -> bool:
    return band.from_months <= most and least < band.below_months


def _runs(bands: list[Band]) -> Iterator[list[Band]]:
    """Bands that follow each other without a gap, together."""
    run: list[Band] = []
    for band in bands:
        if run and run[-1].below_months != band.from_months:
            yield run
            run = []
        run.append(band)
    if run:
        yield run


def in_a_child(found: Iterable[tuple[OneEye | None, Exceeded]]) -> str:
    """All that would be above a limit at some age, in one line; of two guidelines the ages of both together."""
    spans: dict[tuple[OneEye | None, str], list[tuple[int, int]]] = {}
    for about, each in found:
        spans.setdefault((about, each.limit.finding.format(value=each.value)), []).append(each.months)
    return "; ".join(
        f"if {ages(min(first for first, _ in months), max(last for _, last in months))}: "
        f"{f'{about} eye ' if about else ''}{finding}"
        for (about, finding), months in spans.items()
    )
