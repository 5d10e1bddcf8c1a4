"""What stands before an eye, and how a spoken line changes it."""

from dataclasses import dataclass, replace

from voicelog.optics import SpheroCylinder, combined_vector, from_written_power_d
from voicelog.phrases.meanings import Lens, Power


@dataclass(frozen=True, slots=True)
class LensesInPlace:
    """Trial lenses before one eye, without the working-distance lens. None: no such lens. Powers in dioptres."""

    sphere_d: float | None = None
    cylinder_d: float | None = None
    axis_deg: int | None = None

    @property
    def empty(self) -> bool:
        """Whether the frame is empty."""
        return self.sphere_d is None and self.cylinder_d is None

    def power_along_d(self, meridian_deg: float) -> float:
        """Summed power along a meridian of power, thin lenses in contact."""
        parts = [SpheroCylinder(self.sphere_d or 0.0)]
        if self.cylinder_d is not None and self.axis_deg is not None:
            parts.append(SpheroCylinder(0.0, self.cylinder_d, self.axis_deg))
        # Quarter-step lenses along their own axes must come out exact, free of binary debris.
        return round(combined_vector(parts).power_along_d(meridian_deg), 9)

    def without_cylinder(self) -> "LensesInPlace":
        """The sphere alone."""
        return LensesInPlace(self.sphere_d)

    def changed_by(self, lens: Lens) -> "LensesInPlace":
        """After a line that names lenses: each named lens takes the place of its kind.

        `lens.on_top` adds to what is in place instead. The lens must be complete (signs, sizes, axis).
        """
        return self._with_sphere(lens)._with_cylinder(lens)

    def _with_sphere(self, lens: Lens) -> "LensesInPlace":
        if lens.sphere is None:
            return self
        before = (self.sphere_d or 0.0) if lens.on_top else 0.0
        return replace(self, sphere_d=before + exact_d(lens.sphere))

    def _with_cylinder(self, lens: Lens) -> "LensesInPlace":
        if lens.cylinder is None:
            return self
        power = exact_d(lens.cylinder.power)
        axis = lens.cylinder.axis_deg
        if lens.on_top and self.cylinder_d is not None and axis == self.axis_deg:
            power += self.cylinder_d
        return replace(self, cylinder_d=power, axis_deg=axis)


def exact_d(power: Power) -> float:
    """The lens meant by a spoken power: 0.12 and its like are written short for eighths.

    Raises ValueError when the power has no sign or size; such a power must be asked about first.
    """
    if power.dioptres is None:
        raise ValueError("a power without sign or size names no lens")
    return from_written_power_d(power.dioptres)
