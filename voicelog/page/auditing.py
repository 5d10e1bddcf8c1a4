"""The audit as the page shows it: its figures in words, and a plot of differences against means for M, J0 and J45.

The plots are those of Bland & Altman (Lancet 1986;327:307-310): each eye a point, the bias a line, the limits of
agreement dotted, and the band the interval of the bias.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from voicelog.exam.entries import Dryness
from voicelog.optics import written_power
from voicelog.optics.audit import MethodAgreement
from voicelog.page.listed import Sought, narrowed
from voicelog.page.plots import LEFT, RIGHT_EDGE, Plot, Sign, Tick, line, scale, x_of
from voicelog.page.values import signed
from voicelog.record.audit_words import SYMBOLS, lines, mean_of
from voicelog.record.auditing import PARTS, Audit, PairedEye, audit
from voicelog.record.exams import ExamRecord
from voicelog.record.inert import inert
from voicelog.record.journal import Journal

MOST_EXAMS: Final = 1000
"""Newest exams that the page audits; the command line takes all."""


@dataclass(frozen=True, slots=True)
class AuditView:
    """The page's audit. `plots` are of M, J0 and J45, with their names; `more` says that older exams were left out."""

    lines: tuple[str, ...]
    plots: tuple[tuple[str, Plot], ...]
    more: bool


NO_AUDIT: Final = AuditView((), (), False)


def audit_view(journal: Journal, sought: Sought, condition: Dryness) -> AuditView:
    """The audit of what is looked for. Raises RecordError, and VoicelogError for a day that is none."""
    wanted = narrowed(sought, MOST_EXAMS + 1)
    names = [each.id for each in journal.overviews(wanted)]
    found = audit(_exams(journal, names[:MOST_EXAMS]), condition)
    return AuditView(
        lines=tuple(inert(each) for each in lines(found)),
        plots=tuple(_plots(found)),
        more=len(names) > MOST_EXAMS,
    )


def _exams(journal: Journal, names: list[str]) -> Iterator[tuple[str, ExamRecord]]:
    return ((name, journal.exam(name)) for name in names)


def _plots(found: Audit) -> Iterator[tuple[str, Plot]]:
    for part in PARTS:
        agreement = found.agreement[part]
        if agreement is not None:
            yield SYMBOLS[part], _plot(found, part, agreement)


def _plot(found: Audit, part: str, agreement: MethodAgreement) -> Plot:
    means = [mean_of(each.retinoscopy, each.refined.vector, part) for each in found.pairs]
    apart = [_apart(each, part) for each in found.pairs]
    across = scale(means)
    bias = agreement.bias_interval
    y = scale([*apart, agreement.lower, agreement.upper, bias.low, bias.high])
    x = x_of(across.low_d, across.high_d)

    def level(power_d: float) -> str:
        return line([(LEFT, y.at(power_d)), (RIGHT_EDGE, y.at(power_d))])

    low, high = y.at(bias.low), y.at(bias.high)
    edges = [(LEFT, low), (RIGHT_EDGE, low), (RIGHT_EDGE, high), (LEFT, high)]
    return Plot(
        says=f"{SYMBOLS[part]}, differences against means of {len(means)} eyes: bias {agreement.bias:+.2f} D, "
        f"limits of agreement {agreement.lower:+.2f} to {agreement.upper:+.2f} D",
        x_ticks=tuple(Tick(x(power_d), _told(power_d)) for power_d in across.marks_d),
        y_ticks=y.ticks,
        signs=tuple(
            Sign(x(mean), y.at(off), "neutral", f"{each.exam}, {each.eye} eye: {off:+.2f} D at {mean:+.2f} D")
            for each, mean, off in zip(found.pairs, means, apart, strict=True)
        ),
        curve=level(agreement.bias),
        looks=level(agreement.lower) + level(agreement.upper),
        band=f"{line(edges)} Z",
    )


def _apart(pair: PairedEye, part: str) -> float:
    return float(getattr(pair.apart, f"{part}_d"))


def _told(power_d: float) -> str:
    return signed("0.00" if not power_d else written_power(power_d))
