"""A thin sphero-cylindrical lens in its written forms, and as a power vector and power matrix.

Conventions: powers in dioptres, angles in degrees (TABO, 1 to 180). The power along meridian t is
F(t) = S + C sin^2(t - A) = M + J0 cos 2t + J45 sin 2t: the cylinder acts at right angles to its axis.
Thin lenses in contact add as power vectors or matrices, never as sphere, cylinder and axis.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from voicelog.optics import checks
from voicelog.optics.angles import double_angle, normalise_axis_deg, perpendicular_deg
from voicelog.optics.checks import Form
from voicelog.optics.errors import AxisError, PowerRangeError, ShapeError
from voicelog.optics.written import written_axis, written_power

NO_CYLINDER_D: Final = 1e-9  # a computed cylinder below this is rounding noise and has no axis


@dataclass(frozen=True, slots=True)
class PowerVector:
    """A thin lens as (M, J0, J45), all in dioptres; finite, otherwise unlimited (differences and sums).

    M is the spherical equivalent, J0 and J45 the crossed cylinders at axes 180/90 and 45/135:
    M = S + C/2, J0 = -(C/2) cos 2A, J45 = -(C/2) sin 2A (Thibos, Wheeler & Horner, "Power vectors",
    Optom Vis Sci 1997;74:367-375). Raises NotFiniteError.
    """

    m_d: float
    j0_d: float
    j45_d: float

    def __post_init__(self) -> None:
        try:
            usable = math.isfinite(self.m_d + self.j0_d + self.j45_d)
        except TypeError:
            usable = False
        if not usable:  # one sum is quicker than three checks; they find which component it was
            for name, value in (("M", self.m_d), ("J0", self.j0_d), ("J45", self.j45_d)):
                checks.finite(name, value)

    def __add__(self, other: "PowerVector") -> "PowerVector":
        return PowerVector(self.m_d + other.m_d, self.j0_d + other.j0_d, self.j45_d + other.j45_d)

    def __sub__(self, other: "PowerVector") -> "PowerVector":
        return PowerVector(self.m_d - other.m_d, self.j0_d - other.j0_d, self.j45_d - other.j45_d)

    def __neg__(self) -> "PowerVector":
        return PowerVector(-self.m_d, -self.j0_d, -self.j45_d)

    def __mul__(self, factor: float) -> "PowerVector":
        return PowerVector(self.m_d * factor, self.j0_d * factor, self.j45_d * factor)

    __rmul__ = __mul__

    @property
    def astigmatism_d(self) -> float:
        """Length of (J0, J45) in dioptres: half the cylinder."""
        return math.hypot(self.j0_d, self.j45_d)

    @property
    def minus_axis_deg(self) -> float | None:
        """Axis of the minus-cylinder form, degrees in (0, 180]; None without a cylinder."""
        if 2.0 * self.astigmatism_d < NO_CYLINDER_D:
            return None
        return normalise_axis_deg(math.degrees(0.5 * math.atan2(self.j45_d, self.j0_d)))

    @property
    def blur_strength_d(self) -> float:
        """Length of the power vector in dioptres (Thibos & Horner, J Cataract Refract Surg 2001;27:80-85)."""
        return math.hypot(self.m_d, self.j0_d, self.j45_d)

    @property
    def largest_power_d(self) -> float:
        """Largest absolute power in any meridian, dioptres: |M| + half the cylinder."""
        return abs(self.m_d) + self.astigmatism_d

    def power_along_d(self, meridian_deg: float) -> float:
        """Power along a meridian, dioptres. Raises NotFiniteError, AxisError."""
        cosine, sine = double_angle(checks.axis("meridian", meridian_deg))
        return self.m_d + self.j0_d * cosine + self.j45_d * sine

    def to_sphero_cylinder(self, form: Form = "minus") -> "SpheroCylinder":
        """The written lens in minus or plus cylinder form. Raises FormError, PowerRangeError."""
        checks.form(form)
        axis = self.minus_axis_deg
        if axis is None:
            return SpheroCylinder(self.m_d)
        half = self.astigmatism_d
        if form == "minus":
            return SpheroCylinder(self.m_d + half, -2.0 * half, axis)
        return SpheroCylinder(self.m_d - half, 2.0 * half, normalise_axis_deg(axis + 90.0))

    @property
    def matrix(self) -> NDArray[np.float64]:
        """Dioptric power matrix, shape (2, 2), dioptres: [[M + J0, J45], [J45, M - J0]].

        The same numbers as f11 = S + C sin^2 A, f12 = -C sin A cos A, f22 = S + C cos^2 A
        (Long, Am J Optom Physiol Opt 1976;53:27-33), with x horizontal.
        """
        return np.array([[self.m_d + self.j0_d, self.j45_d], [self.j45_d, self.m_d - self.j0_d]])

    @classmethod
    def from_matrix(cls, matrix: ArrayLike) -> "PowerVector":
        """From a dioptric power matrix, shape (2, 2), dioptres. Raises ShapeError, NotFiniteError."""
        given = np.asarray(matrix, dtype=np.float64)
        if given.shape != (2, 2):
            raise ShapeError(f"power matrix has shape {given.shape}; (2, 2) is needed")
        (f11, f12), (f21, f22) = given.tolist()
        if abs(f12 - f21) > 1e-9 * max(1.0, abs(f12)):
            raise ShapeError(f"power matrix has {f12:g} and {f21:g} off its diagonal; they must be equal")
        return cls((f11 + f22) / 2.0, (f11 - f22) / 2.0, (f12 + f21) / 2.0)


@dataclass(frozen=True, slots=True)
class CrossedCylinders:
    """Two cylinders with axes at right angles: `first_d` at `first_axis_deg`, `second_d` 90 degrees away."""

    first_d: float
    first_axis_deg: float
    second_d: float

    def __post_init__(self) -> None:
        checks.power("first cylinder", self.first_d)
        checks.axis("first axis", self.first_axis_deg)
        checks.power("second cylinder", self.second_d)

    @property
    def second_axis_deg(self) -> float:
        """Axis of the second cylinder, degrees in (0, 180]."""
        return perpendicular_deg(self.first_axis_deg)

    def to_sphero_cylinder(self, form: Form = "minus") -> "SpheroCylinder":
        """The same lens as sphere and cylinder: the first cylinder acts along the second's axis."""
        checks.form(form)
        lens = SpheroCylinder(self.second_d, self.first_d - self.second_d, self.first_axis_deg)
        return lens.minus_cylinder() if form == "minus" else lens.plus_cylinder()

    def __str__(self) -> str:
        first = f"{written_power(self.first_d)} x {written_axis(self.first_axis_deg)}"
        return f"{first} / {written_power(self.second_d)} x {written_axis(self.second_axis_deg)}"


@dataclass(frozen=True, slots=True)
class SpheroCylinder:
    """A thin lens as written: sphere and cylinder in dioptres, axis in degrees, either cylinder sign.

    No cylinder means no axis: an axis given with a cylinder of 0 is dropped, a cylinder without an
    axis is refused. Sphere, cylinder and the power across the axis are limited to 40 D.
    Raises NotFiniteError, PowerRangeError, AxisError.
    """

    sphere_d: float
    cylinder_d: float = 0.0
    axis_deg: float | None = None

    def __post_init__(self) -> None:
        sphere = checks.power("sphere", self.sphere_d)
        cylinder = checks.power("cylinder", self.cylinder_d)
        if abs(sphere + cylinder) > checks.MAX_POWER_D + checks.POWER_SLACK_D:
            across = f"{sphere + cylinder:+.2f}"
            raise PowerRangeError(f"power across the axis is {across} D; allowed is -40.00 to +40.00 D")
        axis = None if self.axis_deg is None else checks.axis("axis", self.axis_deg)
        if cylinder and axis is None:
            raise AxisError(f"cylinder {cylinder:+.2f} D has no axis; 1 to 180 is needed")
        object.__setattr__(self, "sphere_d", sphere)
        object.__setattr__(self, "cylinder_d", cylinder)
        object.__setattr__(self, "axis_deg", axis if cylinder else None)

    @property
    def vector(self) -> PowerVector:
        """The lens as a power vector (M, J0, J45), dioptres."""
        if self.axis_deg is None:
            return PowerVector(self.sphere_d, 0.0, 0.0)
        cosine, sine = double_angle(self.axis_deg)
        half = self.cylinder_d / 2.0
        return PowerVector(self.sphere_d + half, -half * cosine, -half * sine)

    @property
    def spherical_equivalent_d(self) -> float:
        """Sphere plus half the cylinder, dioptres."""
        return self.sphere_d + self.cylinder_d / 2.0

    def power_along_d(self, meridian_deg: float) -> float:
        """Power along a meridian, dioptres: S + C sin^2(t - A). Raises NotFiniteError, AxisError.

        Source: Burek, Ophthalmic Physiol Opt 1990;10, equation 1.
        """
        meridian = checks.axis("meridian", meridian_deg)
        if self.axis_deg is None:
            return self.sphere_d
        return self.sphere_d + self.cylinder_d * math.sin(math.radians(meridian - self.axis_deg)) ** 2

    def transposed(self) -> "SpheroCylinder":
        """The same lens with the other cylinder sign: S + C, -C, axis turned by 90. A sphere stays."""
        if self.axis_deg is None:
            return self
        turned = perpendicular_deg(self.axis_deg)
        return SpheroCylinder(self.sphere_d + self.cylinder_d, -self.cylinder_d, turned)

    def minus_cylinder(self) -> "SpheroCylinder":
        """The same lens in minus cylinder form."""
        return self.transposed() if self.cylinder_d > 0 else self

    def plus_cylinder(self) -> "SpheroCylinder":
        """The same lens in plus cylinder form."""
        return self.transposed() if self.cylinder_d < 0 else self

    def in_form(self, form: Form) -> "SpheroCylinder":
        """The same lens in the named cylinder form. Raises FormError."""
        checks.form(form)
        return self.minus_cylinder() if form == "minus" else self.plus_cylinder()

    def crossed_cylinders(self) -> CrossedCylinders:
        """The same lens as two cylinders at right angles; a sphere is given axes 180 and 90."""
        axis = 180.0 if self.axis_deg is None else self.axis_deg
        return CrossedCylinders(self.sphere_d + self.cylinder_d, axis, self.sphere_d)

    def power_cross(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Principal powers as ((meridian_deg, power_d), (meridian_deg, power_d)), along the axis first."""
        axis = 180.0 if self.axis_deg is None else self.axis_deg
        across = (perpendicular_deg(axis), self.sphere_d + self.cylinder_d)
        return (axis, self.sphere_d), across

    def __str__(self) -> str:
        sphere = written_power(self.sphere_d)
        if self.axis_deg is None or written_power(self.cylinder_d) == "plano":
            return sphere if sphere == "plano" else f"{sphere} DS"
        return f"{sphere} {written_power(self.cylinder_d)} x {written_axis(self.axis_deg)}"


def combine(lenses: Iterable[SpheroCylinder], form: Form = "minus") -> SpheroCylinder:
    """Sum of thin lenses in contact at any axes (obliquely crossed cylinders included).

    No lens gives plano. Raises FormError, PowerRangeError. Source: addition of dioptric power
    matrices (Long 1976), here as power vectors.
    """
    return combined_vector(lenses).to_sphero_cylinder(form)


def combined_vector(lenses: Iterable[SpheroCylinder]) -> PowerVector:
    """Sum of thin lenses in contact as a power vector, dioptres."""
    return sum((lens.vector for lens in lenses), PowerVector(0.0, 0.0, 0.0))
