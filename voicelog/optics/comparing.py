"""How far two refractions are apart."""

from dataclasses import dataclass

from voicelog.optics.angles import axis_difference_deg
from voicelog.optics.refraction import PowerVector, SpheroCylinder


@dataclass(frozen=True, slots=True)
class Difference:
    """First refraction minus second.

    vector          difference as a power vector, dioptres: the lens that must be added to the second
    sphere_d, cylinder_d  differences of the minus-cylinder forms as written, dioptres
    axis_deg        signed smallest turn from the second axis to the first, None unless both have one
    """

    vector: PowerVector
    sphere_d: float
    cylinder_d: float
    axis_deg: float | None

    @property
    def blur_strength_d(self) -> float:
        """Length of the difference vector, dioptres.

        The vector dioptric distance of the literature is the square root of 2 times this: it is the length of the
        difference of the power matrices (a sphere of 1 D is 1.41 there: Dobson et al., Optom Vis Sci 2008;85:512-519).
        """
        return self.vector.blur_strength_d

    @property
    def largest_power_d(self) -> float:
        """Largest difference of power in any meridian, dioptres."""
        return self.vector.largest_power_d


def difference(first: SpheroCylinder, second: SpheroCylinder) -> Difference:
    """Compare two refractions; the cylinder form they are written in does not matter.

    Source: differences as power vectors, Thibos, Wheeler & Horner, Optom Vis Sci 1997;74:367-375.
    """
    one, two = first.minus_cylinder(), second.minus_cylinder()
    turn = None
    if one.axis_deg is not None and two.axis_deg is not None:
        turn = axis_difference_deg(one.axis_deg, two.axis_deg)
    return Difference(
        first.vector - second.vector, one.sphere_d - two.sphere_d, one.cylinder_d - two.cylinder_d, turn
    )
