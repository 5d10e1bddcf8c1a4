"""The refraction in another plane than that of the trial lens, and what lenses in two cells really do. Pure.

A result belongs to the plane of the trial lens, and stays there: nothing here changes it.
"""

from voicelog.exam.entries import TrialLenses, VertexEntry
from voicelog.exam.guidance import limit
from voicelog.exam.state import ExamState, EyeState
from voicelog.optics import OpticsError, SpheroCylinder, move_refraction, stack_lenses

_MM = 1000.0


def moved(lens: SpheroCylinder, from_mm: float, to_mm: float = 0.0) -> SpheroCylinder | None:
    """The lens that does the same at another distance from the cornea (millimetres; 0: on it), to a hundredth.

    None where a strong lens would come to its own focus.
    """
    try:
        there = move_refraction(lens, (from_mm - to_mm) / _MM)
    except OpticsError:
        return None
    return SpheroCylinder(round(there.sphere_d, 2), round(there.cylinder_d, 2), there.axis_deg)


def at_cornea(state: ExamState, lens: SpheroCylinder) -> str | None:
    """A lens at the cornea in words, with the distance that it comes from; None while none was noted."""
    vertex = state.findings.last(VertexEntry)
    there = None if vertex is None else moved(lens, vertex.vertex_mm)
    if vertex is None or there is None:
        return None
    axis = "" if there.axis_deg is None else f" {there.cylinder_d:+.2f} x {there.axis_deg:03.0f}"
    return f"{there.sphere_d:+.2f}{axis} at the cornea, {vertex.vertex_mm:g} mm behind the lens"


def stacking_d(lenses: TrialLenses) -> float:
    """How far sphere and cylinder in two cells are from their sum in any meridian, dioptres, whichever is in front."""
    if lenses.sphere_d is None or lenses.cylinder is None:
        return 0.0
    sphere = SpheroCylinder(lenses.sphere_d)
    cylinder = TrialLenses(sphere_d=None, cylinder=lenses.cylinder).lens
    gap_m = limit("cell_gap_mm") / _MM
    return max(
        stack_lenses(order, [gap_m]).difference_d for order in ([sphere, cylinder], [cylinder, sphere])
    )


def stacked_apart_d(eye: EyeState) -> float:
    """The largest of the neutral readings of the pass in hand."""
    return max((stacking_d(each.lenses) for each in eye.neutral), default=0.0)
