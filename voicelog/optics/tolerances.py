"""Dispensing tolerances as data, used to say whether two refractions agree.

They say how close a made lens must come to the order, which is a usual yardstick for "the same
refraction"; local law may set others.
"""

from dataclasses import dataclass
from typing import Final, Literal

from voicelog.optics.angles import axis_difference_deg
from voicelog.optics.problems import Problem
from voicelog.optics.refraction import SpheroCylinder

_SLACK: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Limit:
    """A tolerance: the larger of a fixed amount and a percentage of the nominal power."""

    fixed_d: float = 0.0
    percent: float = 0.0

    def of(self, nominal_d: float) -> float:
        """The tolerance for a nominal power, dioptres."""
        return max(self.fixed_d, abs(nominal_d) * self.percent / 100.0)


Band = tuple[float, Limit]  # applies up to and including this absolute power, dioptres
INF: Final = float("inf")


@dataclass(frozen=True, slots=True)
class ToleranceTable:
    """Power and axis tolerances of one standard.

    power_applies   "sphere": the sphere meridian of the minus-cylinder form, its own power choosing the
                    band; "each": every principal meridian, the strongest choosing the band
    power_bands     by that absolute power
    cylinder_rows   (highest absolute principal power, bands by absolute cylinder)
    axis_bands      (absolute cylinder up to, tolerance in degrees, None where not defined)
    source          where the numbers come from
    """

    name: str
    source: str
    power_applies: Literal["sphere", "each"]
    power_bands: tuple[Band, ...]
    cylinder_rows: tuple[tuple[float, tuple[Band, ...]], ...]
    axis_bands: tuple[tuple[float, float | None], ...]

    def power_tolerance_d(self, nominal: SpheroCylinder) -> float:
        """Tolerance on the power of a meridian, dioptres."""
        order = nominal.minus_cylinder()
        ruling = abs(order.sphere_d) if self.power_applies == "sphere" else _strongest_d(order)
        return _band(self.power_bands, ruling).of(ruling)

    def cylinder_tolerance_d(self, nominal: SpheroCylinder) -> float:
        """Tolerance on the cylinder, dioptres."""
        strongest, cylinder = _strongest_d(nominal), abs(nominal.cylinder_d)
        row = next(bands for limit, bands in self.cylinder_rows if strongest <= limit + _SLACK)
        return _band(row, cylinder).of(cylinder)

    def axis_tolerance_deg(self, nominal: SpheroCylinder) -> float | None:
        """Tolerance on the axis, degrees; None for a cylinder too small for one to be defined."""
        cylinder = abs(nominal.cylinder_d)
        return next(degrees for limit, degrees in self.axis_bands if cylinder <= limit + _SLACK)


def _strongest_d(lens: SpheroCylinder) -> float:
    return max(abs(lens.sphere_d), abs(lens.sphere_d + lens.cylinder_d))


def _band(bands: tuple[Band, ...], value_d: float) -> Limit:
    return next(limit for top, limit in bands if value_d <= top + _SLACK)


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether a second refraction is within a table's tolerances of a nominal one, and what is outside."""

    within: bool
    problems: tuple[Problem, ...]


def agreement(nominal: SpheroCylinder, other: SpheroCylinder, table: ToleranceTable) -> Agreement:
    """Compare `other` with `nominal`, each in minus cylinder form; the tolerances are the nominal's.

    Problem codes: "power_outside", "cylinder_outside", "axis_outside".
    """
    order, made = nominal.minus_cylinder(), other.minus_cylinder()
    off_cylinder = abs(order.cylinder_d - made.cylinder_d)
    # Which made meridian answers which ordered one goes by size: minus form puts the more plus first.
    off_power = abs(order.sphere_d - made.sphere_d)
    if table.power_applies == "each":
        across = abs(order.sphere_d + order.cylinder_d - made.sphere_d - made.cylinder_d)
        off_power = max(off_power, across)
    found = (
        _outside("power", "D", off_power, table.power_tolerance_d(order)),
        _outside("cylinder", "D", off_cylinder, table.cylinder_tolerance_d(order)),
        _axis_outside(order, made, table),
    )
    problems = tuple(problem for problem in found if problem is not None)
    return Agreement(not problems, problems)


def _axis_outside(order: SpheroCylinder, made: SpheroCylinder, table: ToleranceTable) -> Problem | None:
    if order.axis_deg is None or made.axis_deg is None:
        return None
    allowed = table.axis_tolerance_deg(order)
    if allowed is None:
        return None
    return _outside("axis", "degrees", abs(axis_difference_deg(order.axis_deg, made.axis_deg)), allowed)


def _outside(what: str, unit: str, off: float, allowed: float) -> Problem | None:
    if off <= allowed + _SLACK:
        return None
    return Problem(f"{what}_outside", f"{what} differs by {off:.4g} {unit}; allowed is {allowed:.4g} {unit}")


def _fixed(*bands: tuple[float, float]) -> tuple[Band, ...]:
    return tuple((top, Limit(fixed_d=amount)) for top, amount in bands)


def _iso_row(to_075: float, to_400: float, to_600: float, above: float) -> tuple[Band, ...]:
    return _fixed((0.75, to_075), (4.0, to_400), (6.0, to_600), (INF, above))


_ISO_POWER_BANDS: Final = _fixed((9.0, 0.12), (12.0, 0.18), (20.0, 0.25), (INF, 0.37))
_ISO_CYLINDER_ROWS: Final = (
    (3.0, _iso_row(0.09, 0.12, 0.18, 0.25)),
    (6.0, _iso_row(0.12, 0.12, 0.18, 0.25)),
    (9.0, _iso_row(0.12, 0.18, 0.18, 0.25)),
    (12.0, _iso_row(0.12, 0.18, 0.25, 0.25)),
    (20.0, _iso_row(0.18, 0.25, 0.25, 0.25)),
    (INF, _iso_row(0.25, 0.25, 0.37, 0.37)),
)

ANSI_Z80_1_2015: Final = ToleranceTable(
    name="ANSI Z80.1-2015",
    source="ANSI Z80.1-2015, distance power and cylinder axis, quick-reference sheet (second-hand copy)",
    power_applies="sphere",
    power_bands=((6.5, Limit(fixed_d=0.13)), (INF, Limit(percent=2.0))),
    cylinder_rows=((INF, (*_fixed((2.0, 0.13), (4.5, 0.15)), (INF, Limit(percent=4.0)))),),
    axis_bands=((0.12 - 1e-6, None), (0.25, 14.0), (0.5, 7.0), (0.75, 5.0), (1.5, 3.0), (INF, 2.0)),
)
ISO_8980_1_2004: Final = ToleranceTable(
    name="ISO 8980-1:2004",
    source="ISO 8980-1:2004, table 1 and axis tolerances, from memory: confirm in the standard",
    power_applies="each",
    power_bands=_ISO_POWER_BANDS,
    cylinder_rows=_ISO_CYLINDER_ROWS,
    axis_bands=((0.125 - 1e-6, None), (0.5, 7.0), (0.75, 5.0), (1.5, 3.0), (INF, 2.0)),
)
ISO_21987_2009: Final = ToleranceTable(
    name="ISO 21987:2009",
    source="ISO 21987:2009: axis from memory, power as ISO 8980-1:2004 from memory: confirm in the standard",
    power_applies="each",
    power_bands=_ISO_POWER_BANDS,
    cylinder_rows=_ISO_CYLINDER_ROWS,
    axis_bands=(
        (0.125 - 1e-6, None),
        (0.25, 16.0),
        (0.5, 9.0),
        (0.75, 6.0),
        (1.5, 4.0),
        (2.5, 3.0),
        (INF, 2.0),
    ),
)
