"""Trial lenses before one eye. No type can hold half a lens: a cylinder has power and axis, or is not there."""

from functools import lru_cache
from typing import Annotated

from pydantic import Field, field_validator

from voicelog.optics import (
    PowerRangeError,
    SpheroCylinder,
    combined_vector,
    from_written_power_d,
    written_axis,
    written_power,
)
from voicelog.phrases.meanings import Model, Power

Axis = Annotated[int, Field(ge=1, le=180)]


class CylinderLens(Model):
    """A cylinder lens: power in dioptres, never zero; axis in whole degrees (TABO)."""

    power_d: float
    axis_deg: Axis

    @field_validator("power_d")
    @classmethod
    def _has_power(cls, power_d: float) -> float:
        if power_d == 0:
            raise ValueError("a cylinder without power is no cylinder")
        return power_d

    def __str__(self) -> str:
        return f"{written_power(self.power_d)} axis {written_axis(self.axis_deg)}"


@lru_cache(maxsize=4096)
def _power_along_d(sphere_d: float, cylinder: CylinderLens | None, meridian_deg: float) -> float:
    """Each reading is asked for its power with every further one of its pass; there are few lenses and meridians."""
    lens = TrialLenses(sphere_d=sphere_d, cylinder=cylinder).lens
    # Quarter-step lenses along their own axes must come out exact, free of binary debris.
    return round(combined_vector([lens]).power_along_d(meridian_deg), 9)


class TrialLenses(Model):
    """Sphere and cylinder before one eye, the working-distance lens apart. None: no such lens. Powers in dioptres."""

    sphere_d: float | None = None
    cylinder: CylinderLens | None = None

    @property
    def empty(self) -> bool:
        """Whether the frame is empty."""
        return self.sphere_d is None and self.cylinder is None

    @property
    def cylinder_d(self) -> float | None:
        """Power of the cylinder; None without one."""
        return None if self.cylinder is None else self.cylinder.power_d

    @property
    def axis_deg(self) -> int | None:
        """Axis of the cylinder; None without one."""
        return None if self.cylinder is None else self.cylinder.axis_deg

    @property
    def lens(self) -> SpheroCylinder:
        """All of it as one lens."""
        if self.cylinder is None:
            return SpheroCylinder(self.sphere_d or 0.0)
        return SpheroCylinder(self.sphere_d or 0.0, self.cylinder.power_d, self.cylinder.axis_deg)

    def power_along_d(self, meridian_deg: float) -> float:
        """Summed power along a meridian of power, dioptres, thin lenses in contact."""
        return _power_along_d(self.sphere_d or 0.0, self.cylinder, meridian_deg)

    def with_sphere(self, sphere_d: float | None) -> "TrialLenses":
        """With another sphere, or none."""
        return TrialLenses(sphere_d=sphere_d, cylinder=self.cylinder)

    def with_cylinder(self, cylinder: CylinderLens | None) -> "TrialLenses":
        """With another cylinder, or none."""
        return TrialLenses(sphere_d=self.sphere_d, cylinder=cylinder)

    def words(self) -> str:
        """ "sphere +1.25, cylinder -0.50 axis 090"; "no lens"."""
        parts = [] if self.sphere_d is None else [f"sphere {written_power(self.sphere_d)}"]
        if self.cylinder is not None:
            parts.append(f"cylinder {self.cylinder}")
        return ", ".join(parts) or "no lens"


def exact_d(power: Power) -> float:
    """The lens meant by a spoken power: 0.12 and its like are written short for eighths.

    A power that no lens has is given as it was said; `check_power` refuses it.

    Raises ValueError when the power has no sign or size; such a power must be asked about first.
    """
    if power.dioptres is None:
        raise ValueError("a power without sign or size names no lens")
    try:
        return from_written_power_d(power.dioptres)
    except PowerRangeError:
        return power.dioptres
