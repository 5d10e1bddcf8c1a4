"""Near and dynamic retinoscopy: what they measure is not the static refraction and is never mixed with it.

Dynamic retinoscopy compares the accommodation in use with the target's demand: lag (plus) or lead (minus). Near
retinoscopy in the dark gives a refraction, less an adjustment that depends on age and is not the working distance's.
"""

from dataclasses import dataclass

from voicelog.optics import checks
from voicelog.optics.refraction import SpheroCylinder


def nott_lag_d(target_m: float, neutral_m: float) -> float:
    """Lag of accommodation, dioptres, when neutral was seen from `neutral_m` with the target at `target_m`, metres.

    1/target - 1/neutral: plus (a lag) when the retinoscope had to go back behind the target. Nothing is taken off
    for the working distance. Source: Nott's method as Coloma Torregrosa, Pascual & de Fez give it ("Calculation of
    Nott dynamic retinoscopy": the target's demand less the inverse of the distance of neutral, in metres).
    Raises NotFiniteError, DistanceError.
    """
    target = checks.distance("target distance", target_m)
    neutral = checks.distance("distance of neutral", neutral_m)
    return 1.0 / target - 1.0 / neutral


def estimate_lag_d(lens_d: float) -> float:
    """Lag of accommodation by the monocular estimate: the lens that neutralises, dioptres, and nothing taken off.

    Source: the method as described in Tassinari, Optom Vis Sci 2002;79:708-714. Raises NotFiniteError,
    PowerRangeError.
    """
    return checks.power("neutralising lens", lens_d)


@dataclass(frozen=True, slots=True)
class Response:
    """Accommodation as found: `demand_d` of the target, `lag_d` behind it (minus: a lead), both dioptres."""

    demand_d: float
    lag_d: float

    @property
    def response_d(self) -> float:
        """The accommodation in use, dioptres."""
        return self.demand_d - self.lag_d


def dark_refraction(gross: SpheroCylinder, adjustment_d: float) -> SpheroCylinder:
    """Refraction by near retinoscopy in the dark: the neutralising lens less the adjustment, in the sphere only.

    The adjustment, dioptres, stands in the place of the working distance's allowance, which is not taken off.
    Source: Mohindra's technique; adjustments in exam/guidance.toml. Raises NotFiniteError, PowerRangeError.
    """
    taken_off = checks.allowance("adjustment", adjustment_d)
    return SpheroCylinder(gross.sphere_d - taken_off, gross.cylinder_d, gross.axis_deg)
