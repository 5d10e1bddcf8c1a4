"""How sure a solved refraction is: known errors of the readings carried to the result.

First-order propagation (JCGM 100:2008, "GUM", 5.1 and 5.2, with correlations), except for the axis of a
small cylinder, where the first order fails and the angle of a normal vector is used instead.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from voicelog.optics import checks
from voicelog.optics.angles import double_angle
from voicelog.optics.checks import Form
from voicelog.optics.errors import ErrorModelError
from voicelog.optics.fitting import Fit
from voicelog.optics.refraction import NO_CYLINDER_D, PowerVector, SpheroCylinder
from voicelog.optics.rounding import QUARTER_D
from voicelog.optics.written import written_axis, written_power

Row = tuple[float, ...]
Matrix = tuple[Row, Row, Row]

DEFAULT_STREAK_SD_DEG: Final = 3.0  # common practice, no source
PUBLISHED_NEUTRALITY_SD_D: Final = 0.26
# One reading's share of the repeatability of retinoscopy without drops: Walline, Kinney, Zadnik & Mutti,
# "Repeatability and validity of astigmatism measurements", J Refract Surg 1999;15:23-31 (authors and pages
# from memory; abstract seen), 95 % limits of the cylinder between visits 1.02 D = 1.96 sqrt(2) sqrt(2) sd.
_LARGE_RATIO: Final = 6.0  # from here on the first order is right to 2 % of the axis error


@dataclass(frozen=True, slots=True)
class ErrorModel:
    """Standard deviations of what goes into a reading.

    lens_step_d      step of the lenses tried, dioptres: the reading is uniform within half a step
    allowance_sd_d   of the working-distance allowance, dioptres; common to all meridians
    streak_sd_deg    of the streak's angle, degrees
    neutrality_sd_d  of the examiner's judgement of neutrality, dioptres, each reading on its own; 0 leaves
                     only the mechanical errors, PUBLISHED_NEUTRALITY_SD_D is what one study found
    Raises NotFiniteError, ErrorModelError.
    """

    lens_step_d: float = QUARTER_D
    allowance_sd_d: float = 0.0
    streak_sd_deg: float = DEFAULT_STREAK_SD_DEG
    neutrality_sd_d: float = 0.0

    def __post_init__(self) -> None:
        for name in ("lens_step_d", "allowance_sd_d", "streak_sd_deg", "neutrality_sd_d"):
            value = checks.finite(name, getattr(self, name))
            if value < 0.0:
                raise ErrorModelError(f"{name} is {value:g}; 0 or more is needed")

    @property
    def reading_sd_d(self) -> float:
        """Standard deviation of one reading's power, dioptres: step/sqrt(12) with the judgement's."""
        return math.hypot(self.lens_step_d / math.sqrt(12.0), self.neutrality_sd_d)


USUAL_ERRORS: Final = ErrorModel(neutrality_sd_d=PUBLISHED_NEUTRALITY_SD_D)
"""By which readings are judged when no error model was given."""


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Standard deviations of a solved refraction, dioptres and degrees.

    covariance is that of (M, J0, J45), 3 rows of 3, square dioptres. axis_sd_deg is None without
    a cylinder; 52 degrees is the value of an axis that may lie anywhere. For cylinders not larger than
    their own error cylinder_sd_d is an upper bound (the size of a short noisy vector varies less).
    """

    covariance: Matrix
    m_sd_d: float
    j0_sd_d: float
    j45_sd_d: float
    sphere_sd_d: float
    cylinder_sd_d: float
    axis_sd_deg: float | None
    form: Form

    def text(self, refraction: SpheroCylinder, coverage_factor: float = 2.0) -> str:
        """A refraction with its expanded uncertainty: "+1.00 ± 0.2 -2.25 ± 0.3 x 085 ± 4".

        The half-widths are `coverage_factor` standard deviations (2 for about 95 %), rounded up; an axis
        half-width of 45 degrees or more is no axis: "axis unknown".
        """
        lens = refraction.in_form(self.form)
        sphere = f"{written_power(lens.sphere_d)} {half_width(coverage_factor * self.sphere_sd_d)}"
        cylinder_half = half_width(coverage_factor * self.cylinder_sd_d)
        if lens.axis_deg is None or self.axis_sd_deg is None:
            return f"{sphere}, cylinder 0.00 {cylinder_half}"
        half_deg = math.ceil(coverage_factor * self.axis_sd_deg - 1e-9)
        axis = f" x {written_axis(lens.axis_deg)} ± {half_deg}" if half_deg < 45 else ", axis unknown"
        return f"{sphere} {written_power(lens.cylinder_d)} {cylinder_half}{axis}"


def half_width(value_d: float) -> str:
    """A half-width in dioptres as written, rounded up: "± 0.3"."""
    return f"± {math.ceil(value_d * 10.0 - 1e-9) / 10.0:.1f}"


def fit_covariance(fit: Fit, sds_d: Sequence[float], errors: ErrorModel) -> Matrix:
    """Covariance of (M, J0, J45) from the errors of n readings, 3 rows of 3, square dioptres.

    sds_d  n standard deviations of the readings' powers, dioptres: `power_sds_d`, or each reading's own for
           two meridians at right angles

    Three or more meridians: a streak turned by e reads F(t + e), so its power error is F'(t) e.
    Two at right angles: the powers are stationary there and the streak error turns the axis instead,
    moving J sideways by 2 |J| e. How finely the examiner can set the streak is limited by the power
    seen off axis, so the sideways part never gets better than the part along, each meridian read once: that
    is why a small cylinder has a wide axis. Repeats make the powers surer, not the streak's setting. (The
    last two rules are our model, no source.)
    """
    if fit.axis_deg is None:
        mm, m0, m45, j00, j045, j4545 = _weighted_products(fit.inverse, [sd**2 for sd in sds_d])
    else:
        streak_sd = math.radians(errors.streak_sd_deg)
        mm, m0, m45, j00, j045, j4545 = _perpendicular_products(fit, fit.axis_deg, sds_d, streak_sd)
    return ((mm, m0, m45), (m0, j00, j045), (m45, j045, j4545))


def with_allowance(covariance: Matrix, errors: ErrorModel) -> Matrix:
    """The covariance with the error of the working distance, which is common to all readings, added to M's."""
    (mm, m0, m45), second, third = covariance
    return ((mm + errors.allowance_sd_d**2, m0, m45), second, third)


def power_sds_d(
    vector: PowerVector, meridians_deg: Sequence[float], own_sds_d: Sequence[float], errors: ErrorModel
) -> list[float]:
    """Standard deviations of the powers read, dioptres: each reading's own, and the streak's times F'(t)."""
    streak_sd = math.radians(errors.streak_sd_deg)
    return [
        math.hypot(own, _slope_d(vector, meridian) * streak_sd)
        for meridian, own in zip(meridians_deg, own_sds_d, strict=True)
    ]


def _slope_d(vector: PowerVector, meridian_deg: float) -> float:
    """Change of the power along a meridian per radian of its turn, dioptres."""
    cosine, sine = double_angle(meridian_deg)
    return 2.0 * (vector.j45_d * cosine - vector.j0_d * sine)


def power_along_sd_d(covariance: Matrix, meridian_deg: float) -> float:
    """Standard deviation of the fitted power along a meridian (degrees), dioptres."""
    row = (1.0, *double_angle(meridian_deg))
    variance = sum(x * y * covariance[a][b] for a, x in enumerate(row) for b, y in enumerate(row))
    return math.sqrt(max(0.0, variance))


def across_sd_d(covariance: Matrix, axis_deg: float) -> float:
    """Standard deviation of the component of (J0, J45) across the direction of an axis (degrees), dioptres."""
    cosine, sine = double_angle(axis_deg)
    (_, j00, j045), (_, _, j4545) = covariance[1], covariance[2]
    return math.sqrt(max(0.0, sine * sine * j00 - 2.0 * cosine * sine * j045 + cosine * cosine * j4545))


def _weighted_products(rows: Sequence[Row], variances: Sequence[float]) -> list[float]:
    """Upper triangle, row by row, of R V R' for rows R and a diagonal V."""
    return [
        sum(x * y * v for x, y, v in zip(rows[a], rows[b], variances, strict=True))
        for a in range(len(rows))
        for b in range(a, len(rows))
    ]


def _perpendicular_products(
    fit: Fit, axis_deg: float, sds_d: Sequence[float], streak_sd: float
) -> tuple[float, ...]:
    variances = [sd**2 for sd in sds_d]
    mean, mixed, along = _weighted_products(fit.inverse, variances)
    once = (
        sum(weight * variance for weight, variance in zip(map(abs, fit.inverse[1]), variances, strict=True))
        / 2.0
    )
    sideways = once + (2.0 * fit.vector.astigmatism_d * streak_sd) ** 2
    c, s = double_angle(axis_deg)
    j00, j4545 = along * c * c + sideways * s * s, along * s * s + sideways * c * c
    return (mean, mixed * c, mixed * s, j00, (along - sideways) * c * s, j4545)


def propagate(vector: PowerVector, covariance: Matrix, form: Form = "minus") -> Uncertainty:
    """Carry a covariance of (M, J0, J45), 3 rows of 3, square dioptres, to sphere, cylinder and axis.

    With r the length of (J0, J45) and u its direction: C = -2r, S = M + r (minus form; M - r in plus
    form), and the axis is half the angle of u. Raises FormError.
    """
    checks.form(form)
    (mm, m0, m45), (_, j00, j045), (_, _, j4545) = covariance
    half = vector.astigmatism_d
    axis_sd = None
    if 2.0 * half < NO_CYLINDER_D:
        along = (j00 + j4545) / 2.0 + math.hypot((j00 - j4545) / 2.0, j045)
        sphere_var = mm + along
    else:
        c, s = vector.j0_d / half, vector.j45_d / half
        along = max(0.0, c * c * j00 + 2.0 * c * s * j045 + s * s * j4545)
        sideways = max(0.0, s * s * j00 - 2.0 * c * s * j045 + c * c * j4545)
        crossed = c * s * (j4545 - j00) + (c * c - s * s) * j045
        with_mean = (c * m0 + s * m45) * (1.0 if form == "minus" else -1.0)
        sphere_var = max(0.0, mm + along + 2.0 * with_mean)
        axis_sd = _axis_sd_deg(half, along, crossed, sideways)
    return Uncertainty(
        covariance=covariance,
        m_sd_d=math.sqrt(mm),
        j0_sd_d=math.sqrt(j00),
        j45_sd_d=math.sqrt(j4545),
        sphere_sd_d=math.sqrt(sphere_var),
        cylinder_sd_d=2.0 * math.sqrt(along),
        axis_sd_deg=axis_sd,
        form=form,
    )


def _axis_sd_deg(half_d: float, along: float, crossed: float, sideways: float) -> float:
    """Root mean square error of the axis, degrees, from the direction of a normal vector.

    The vector's mean is `half_d` along the first coordinate; the rest is its covariance, square dioptres.
    """
    spread = math.hypot((along - sideways) / 2.0, crossed)
    largest, smallest = (along + sideways) / 2.0 + spread, (along + sideways) / 2.0 - spread
    if half_d >= _LARGE_RATIO * math.sqrt(largest):
        return math.degrees(0.5 * math.sqrt(sideways) / half_d)
    floor = 1e-4 * largest  # a flat ellipse is given some width, so that its density can be summed
    along, sideways, smallest = along + floor, sideways + floor, max(0.0, smallest) + floor
    count = math.ceil(2.0 * math.pi * _LARGE_RATIO * math.sqrt(largest / smallest))
    total, second = 0.0, 0.0
    for step in range(count):
        offset = (step + 0.5) * 2.0 * math.pi / count - math.pi
        density = _direction_density(half_d, along, crossed, sideways, offset)
        total += density
        second += density * offset * offset
    return math.degrees(0.5 * math.sqrt(second / total))


def _direction_density(mean: float, along: float, crossed: float, sideways: float, angle: float) -> float:
    """Density, up to a factor, of the direction of a normal vector with mean (mean, 0); angle in radians.

    Source: the offset (projected) normal distribution, Mardia, "Statistics of Directional Data",
    1972, section 3.4.7, from memory; checked against simulation in the tests.
    """
    determinant = along * sideways - crossed * crossed
    c, s = math.cos(angle), math.sin(angle)
    scale = (c * c * sideways - 2.0 * c * s * crossed + s * s * along) / determinant
    shift = mean * (c * sideways - s * crossed) / determinant / math.sqrt(scale)
    whole = mean * mean * sideways / determinant
    below = 0.5 * math.erfc(-shift / math.sqrt(2.0))
    forward = math.sqrt(2.0 * math.pi) * shift * below * math.exp((shift * shift - whole) / 2.0)
    return (math.exp(-whole / 2.0) + forward) / scale
