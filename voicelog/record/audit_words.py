"""An audit in words and as plain data."""

import math
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, Final

from voicelog.optics import PowerVector
from voicelog.optics.audit import Interval, MethodAgreement
from voicelog.record.auditing import PARTS, Audit
from voicelog.record.plain import counted

SYMBOLS: Final = {"m": "M", "j0": "J0", "j45": "J45"}
NOTES: Final = (
    "Differences are retinoscopy less refined result, as power vectors; intervals are 95 % and count exams, not eyes.",
    "A difference does not say which of the two is right. Accommodation or fog looks like a distance held wrongly.",
    "Figures of an examiner's habit, not of a patient; nothing in the record is changed by them.",
)


def lines(found: Audit) -> Iterator[str]:
    """The audit, line by line."""
    yield (
        f"{found.exams} of {counted(found.exams_seen, 'exam')} with {found.condition} retinoscopy and refined result: "
        f"{counted(len(found.pairs), 'eye')}"
    )
    if found.agreement["m"] is None:
        yield "no figures of agreement yet: they need two exams or more"
    yield from (f"{SYMBOLS[part]}: {_agreement(each)}" for part in PARTS if (each := found.agreement[part]))
    if found.distance is not None:
        bias_cm, interval = found.distance.bias_m * 100, found.distance.interval_m
        yield (
            f"working distance: the difference in M is as if held {_nearer(bias_cm)} than said "
            f"({interval.low * 100:+.1f} to {interval.high * 100:+.1f} cm, minus is nearer)"
        )
    if found.repeats is not None:
        repeats = found.repeats
        of = f"{counted(repeats.passes, 'pass')} of {counted(repeats.eyes, 'eye')}"
        yield (
            f"passes repeated: standard deviation of M {repeats.m_sd_d:.2f} D {_of(repeats.m_interval_d)}, "
            f"J0 {repeats.j0_sd_d:.2f}, J45 {repeats.j45_sd_d:.2f}; two passes agree in M within "
            f"{repeats.m_repeats_within_d:.2f} D in 95 % ({of})"
        )
    own = found.own_errors
    if own is not None:
        yield (
            f"own judgement of neutrality: {own.neutrality_sd_d:.2f} D for one reading (the setting neutrality_sd_d "
            "takes it for the exams to come)"
        )
    for band in found.axes:
        size = f"from {band.from_d:.2f}" if math.isinf(band.to_d) else f"{band.from_d:.2f} to {band.to_d:.2f}"
        yield (
            f"axis, cylinders {size} D: turned {band.turn_deg:+.0f} degrees on average, scatter "
            f"{band.scatter_deg:.0f} degrees ({counted(band.eyes, 'eye')})"
        )
    for month in found.months:
        within = "" if month.m is None else f" {_of(month.m.bias_interval, signed=True)}"
        of = f"{counted(month.exams, 'exam')}, {counted(month.eyes, 'eye')}"
        yield f"{month.month}: M {month.m_mean_d:+.2f} D{within}, {of}"
    yield from NOTES


def as_data(found: Audit) -> dict[str, Any]:
    """The audit as plain data: numbers in the units of their names, agreement in dioptres, no end of a band as null."""
    own = found.own_errors
    return {
        "condition": found.condition,
        "exams_seen": found.exams_seen,
        "exams": found.exams,
        "eyes": len(found.pairs),
        "agreement_d": {part: each and asdict(each) for part, each in found.agreement.items()},
        "working_distance": found.distance and asdict(found.distance),
        "repeatability": found.repeats and asdict(found.repeats),
        "own_neutrality_sd_d": own and own.neutrality_sd_d,
        "axes": [
            {**asdict(each), "to_d": None if math.isinf(each.to_d) else each.to_d} for each in found.axes
        ],
        "months": [asdict(each) for each in found.months],
        "pairs": [
            {
                "exam": each.exam,
                "eye": each.eye,
                "mean_d": {part: mean_of(each.retinoscopy, each.refined.vector, part) for part in PARTS},
                "difference_d": {part: getattr(each.apart, f"{part}_d") for part in PARTS},
            }
            for each in found.pairs
        ],
        "notes": list(NOTES),
    }


def mean_of(one: PowerVector, two: PowerVector, part: str) -> float:
    """Mean of two refractions in one part of a power vector ("m", "j0", "j45"), dioptres."""
    return float(getattr(one, f"{part}_d") + getattr(two, f"{part}_d")) / 2.0


def _agreement(each: MethodAgreement) -> str:
    return (
        f"bias {each.bias:+.2f} D {_of(each.bias_interval, signed=True)}, limits of agreement {each.lower:+.2f} "
        f"{_of(each.lower_interval, signed=True)} to {each.upper:+.2f} {_of(each.upper_interval, signed=True)}"
    )


def _of(interval: Interval, *, signed: bool = False) -> str:
    form = "+.2f" if signed else ".2f"
    return f"({interval.low:{form}} to {interval.high:{form}})"


def _nearer(bias_cm: float) -> str:
    return f"{abs(bias_cm):.1f} cm {'nearer' if bias_cm < 0 else 'farther'}"
