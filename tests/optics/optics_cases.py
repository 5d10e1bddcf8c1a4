"""Random lenses and readings shared by the optics tests; every draw is derandomised, so nothing is flaky."""

from hypothesis import settings
from hypothesis import strategies as st

from voicelog.optics import PowerVector, SpheroCylinder

repeatable = settings(derandomize=True, deadline=None, max_examples=300)

whole_axes = st.integers(1, 180).map(float)
any_axes = st.one_of(whole_axes, st.floats(0.01, 180.0))
quarter_steps = st.integers(-60, 60).map(lambda steps: steps * 0.25)


@st.composite
def lenses(draw: st.DrawFn, largest_d: float = 20.0) -> SpheroCylinder:
    """Any lens: either cylinder sign, no cylinder, quarter steps or not, all powers within `largest_d`."""
    half = largest_d / 2.0
    powers = st.one_of(st.floats(-half, half), st.integers(int(-4 * half), int(4 * half)).map(lambda k: k / 4))
    cylinder = draw(st.one_of(st.just(0.0), powers.filter(lambda power: abs(power) > 1e-6)))
    return SpheroCylinder(draw(powers), cylinder, draw(any_axes))


def apart_d(one: PowerVector | SpheroCylinder, other: PowerVector | SpheroCylinder) -> float:
    """Dioptric distance of two lenses, in whatever form."""
    first = one.vector if isinstance(one, SpheroCylinder) else one
    second = other.vector if isinstance(other, SpheroCylinder) else other
    return (first - second).blur_strength_d
