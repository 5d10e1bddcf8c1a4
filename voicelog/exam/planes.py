"""The refraction in another plane than that of the trial lens, and what lenses in two cells really do. Pure.

A result belongs to the plane of the trial lens, and stays there: nothing here changes it.
"""

from voicelog.exam.entries import TrialLenses, VertexEntry
from voicelog.exam.entries.face import GREATEST_VERTEX_MM, LEAST_VERTEX_MM
from voicelog.exam.guidance import limit
from voicelog.exam.standing import EYES, EyeName
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
    return f"{_hundredths(there)} at the cornea, {vertex.vertex_mm:g} mm behind the lens"


def result_at(state: ExamState, to_mm: float | None, named: EyeName | None = None) -> str:
    """The results as they would be at another distance from the cornea (millimetres; 0: on it), in words.

    Nothing is entered: the noted distance stays. Without one the plane of the trial lens is not known.
    """
    vertex = state.findings.last(VertexEntry)
    if vertex is None:
        return "the back vertex distance of the trial lens was not said: nothing can be worked out from it"
    if to_mm is None:
        return "at which back vertex distance?"
    if to_mm and not LEAST_VERTEX_MM <= to_mm <= GREATEST_VERTEX_MM:
        return f"{to_mm:g} mm is no back vertex distance ({LEAST_VERTEX_MM:g} to {GREATEST_VERTEX_MM:g} mm)"
    plane = f"at {to_mm:g} mm" if to_mm else "at the cornea"
    told = []
    for name in EYES if named is None else (named,):
        net = state.eyes[name].result
        there = None if net is None else moved(net, vertex.vertex_mm, to_mm)
        if net is None:
            told.append(f"{name} eye: no result")
        elif there is None:
            told.append(f"{name} eye: {net} comes to its own focus {plane}")
        else:
            told.append(f"{name} eye: {_hundredths(there)} {plane}, from {net} at {vertex.vertex_mm:g} mm")
    return "; ".join(told)


def _hundredths(lens: SpheroCylinder) -> str:
    axis = "" if lens.axis_deg is None else f" {lens.cylinder_d:+.2f} x {lens.axis_deg:03.0f}"
    return f"{lens.sphere_d:+.2f}{axis}"


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
