"""A dispensing tolerance as data, used to say whether two refractions agree.

They say how close a made lens must come to the order, which is a usual yardstick for "the same
refraction"; local law may set others.
"""

from dataclasses import dataclass
from typing import Final

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

    power_bands     by the absolute power of the sphere meridian of the minus-cylinder form
    cylinder_bands  by the absolute cylinder
    axis_bands      (absolute cylinder up to, tolerance in degrees, None where not defined)
    source          where the numbers come from
    """

    name: str
    source: str
    power_bands: tuple[Band, ...]
    cylinder_bands: tuple[Band, ...]
    axis_bands: tuple[tuple[float, float | None], ...]

    def power_tolerance_d(self, nominal: SpheroCylinder) -> float:
        """Tolerance on the power of the sphere meridian, dioptres."""
        ruling = abs(nominal.minus_cylinder().sphere_d)
        return _band(self.power_bands, ruling).of(ruling)

    def cylinder_tolerance_d(self, nominal: SpheroCylinder) -> float:
        """Tolerance on the cylinder, dioptres."""
        cylinder = abs(nominal.cylinder_d)
        return _band(self.cylinder_bands, cylinder).of(cylinder)

    def axis_tolerance_deg(self, nominal: SpheroCylinder) -> float | None:
        """Tolerance on the axis, degrees; None for a cylinder too small for one to be defined."""
        cylinder = abs(nominal.cylinder_d)
        return next(degrees for limit, degrees in self.axis_bands if cylinder <= limit + _SLACK)


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


ANSI_Z80_1_2015: Final = ToleranceTable(
    name="ANSI Z80.1-2015",
    source="ANSI Z80.1-2015, distance power and cylinder axis, quick-reference sheet (second-hand copy)",
    power_bands=((6.5, Limit(fixed_d=0.13)), (INF, Limit(percent=2.0))),
    cylinder_bands=((2.0, Limit(fixed_d=0.13)), (4.5, Limit(fixed_d=0.15)), (INF, Limit(percent=4.0))),
    axis_bands=((0.12 - 1e-6, None), (0.25, 14.0), (0.5, 7.0), (0.75, 5.0), (1.5, 3.0), (INF, 2.0)),
)
