"""Random lenses and readings shared by the optics tests; every draw is derandomised, so nothing is flaky."""

import math

from hypothesis import settings
from hypothesis import strategies as st

from voicelog.optics import PowerVector, SpheroCylinder

repeatable = settings(derandomize=True, deadline=None, max_examples=100)
thorough = settings(repeatable, max_examples=400)

whole_axes = st.integers(1, 180).map(float)
any_axes = st.floats(0.01, 180.0)
quarter_steps = st.integers(-60, 60).map(lambda steps: steps * 0.25)


def lenses(largest_d: float = 20.0) -> st.SearchStrategy[SpheroCylinder]:
    """Any lens: either cylinder sign or none, quarter steps or not, all powers within `largest_d`."""
    powers = st.floats(-largest_d / 2.0, largest_d / 2.0)
    return st.builds(_lens, powers, powers, any_axes, st.sampled_from(["any", "written", "sphere"]))


def _lens(sphere_d: float, cylinder_d: float, axis_deg: float, kind: str) -> SpheroCylinder:
    if kind == "sphere":
        return SpheroCylinder(sphere_d)
    if kind == "written":
        return SpheroCylinder(round(sphere_d * 4) / 4, round(cylinder_d * 4) / 4, math.ceil(axis_deg))
    # a cylinder of less than a millionth of a dioptre is a sphere to the package, see NO_CYLINDER_D
    return SpheroCylinder(sphere_d, cylinder_d if abs(cylinder_d) > 1e-6 else 0.0, axis_deg)


def apart_d(one: PowerVector | SpheroCylinder, other: PowerVector | SpheroCylinder) -> float:
    """Dioptric distance of two lenses, in whatever form."""
    first = one.vector if isinstance(one, SpheroCylinder) else one
    second = other.vector if isinstance(other, SpheroCylinder) else other
    return (first - second).blur_strength_d
