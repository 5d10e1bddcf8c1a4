"""Acuity in its four notations.

An acuity is the reciprocal of the smallest angle resolved, MAR, in minutes of arc. A Snellen fraction is test distance
over line, decimal acuity is that fraction as a number, and logMAR is log10(MAR) (definitions: ISO 8596, from memory;
the table in `acuity_lines.toml` names its own sources). Letters more or fewer than a line are kept as they were said
and are not converted: how much a letter counts depends on the chart. Words such as "counting fingers" are no numbers
and are never turned into one.
"""

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from voicelog.phrases.meanings import AcuityValue, Snellen

Notation = Literal["metric", "imperial", "decimal", "logmar"]

_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class ChartLine:
    """One line of a chart: its name at 20 feet, at 6 metres, as a decimal, and its logMAR as printed."""

    feet: float
    metres: float
    decimal: float
    logmar: float
    source: str

    @property
    def exact_logmar(self) -> float:
        """log10(MAR) of the line at 20 feet."""
        return math.log10(self.feet / 20)


@dataclass(frozen=True, slots=True)
class ChartLines:
    """The table: lines from fine to coarse, how near a value must be to be a line, and further lines in use."""

    lines: tuple[ChartLine, ...]
    near: float
    also_metres: frozenset[float]
    also_feet: frozenset[float]

    def at(self, logmar: float) -> ChartLine | None:
        """The line of that logMAR, None where there is none near."""
        nearest = min(self.lines, key=lambda line: abs(line.exact_logmar - logmar))
        return nearest if abs(nearest.exact_logmar - logmar) <= self.near else None


@cache
def chart_lines() -> ChartLines:
    """The table that is shipped."""
    data = tomllib.loads((files("voicelog.exam") / "acuity_lines.toml").read_text(encoding="utf-8"))
    lines = tuple(ChartLine(**{**row, "source": data["source"][row["source"]]}) for row in data["line"])
    also = data["also"]
    return ChartLines(lines, data["near"], frozenset(also["metres"]), frozenset(also["feet"]))


def logmar_of(value: AcuityValue) -> float | None:
    """log10(MAR) of an acuity, without its letters; None for words and for what is no acuity (a zero)."""
    if value.logmar is not None:
        return value.logmar
    decimal = value.decimal
    if value.snellen is not None:
        distance = value.snellen.metres or value.snellen.feet or 0.0
        decimal = distance / value.snellen.line if value.snellen.line else None
    return -math.log10(decimal) if decimal is not None and decimal > 0 else None


def is_on_a_chart(snellen: Snellen) -> bool:
    """Whether charts have the line of that fraction, at that distance or at the usual one."""
    table = chart_lines()
    if snellen.metres is not None:
        names = {line.metres for line in table.lines} | table.also_metres
    else:
        names = {line.feet for line in table.lines} | table.also_feet
    logmar = logmar_of(AcuityValue(snellen=snellen))
    return snellen.line in names or (logmar is not None and table.at(logmar) is not None)


def written_acuity(value: AcuityValue, notation: Notation | None = None) -> str:
    """An acuity as it is written: "6/9 -2", "20/30", "0.67", "0.18", or in words; None: as it was said."""
    if value.category is not None:
        return value.category.replace("_", " ")
    letters = f" {value.letters:+d}" if value.letters else ""
    logmar = logmar_of(value)
    if notation is None or logmar is None or _notation_of(value) == notation:
        return _as_said(value) + letters
    return _converted(logmar, notation) + letters


def _notation_of(value: AcuityValue) -> Notation | None:
    if value.snellen is not None:
        usual = value.snellen.metres == 6 or value.snellen.feet == 20
        return ("metric" if value.snellen.metres is not None else "imperial") if usual else None
    return "decimal" if value.decimal is not None else "logmar" if value.logmar is not None else None


def _as_said(value: AcuityValue) -> str:
    if value.snellen is not None:
        return f"{value.snellen.metres or value.snellen.feet or 0:g}/{value.snellen.line:g}"
    if value.decimal is not None:
        return _decimal(value.decimal)
    if value.n_points is not None:
        return f"N{value.n_points:g}"
    if value.jaeger is not None:
        return f"J{value.jaeger}"
    if value.cycles_per_degree is not None:
        return f"{value.cycles_per_degree:g} cycles per degree"
    return "no acuity" if value.logmar is None else f"{value.logmar + 0.0:.2f}"


def _converted(logmar: float, notation: Notation) -> str:
    line = chart_lines().at(logmar)
    match notation:
        case "logmar":
            return f"{logmar + 0.0:.2f}"
        case "decimal":
            return _decimal(line.decimal if line else _two_figures(10**-logmar))
        case "metric":
            return f"6/{line.metres if line else _two_figures(6 * 10**logmar):g}"
        case "imperial":
            return f"20/{line.feet if line else _two_figures(20 * 10**logmar):g}"


def _decimal(value: float) -> str:
    """At least one decimal, so that 1.0 is not taken for a count."""
    text = f"{value:g}"
    return text if "." in text else f"{text}.0"


def _two_figures(value: float) -> float:
    """Rounded to two figures, from 100 on to whole numbers: as chart lines are named."""
    if value >= 100 - _SAME:
        return float(round(value))
    return float(f"{value:.2g}")
