"""What a solved eye predicts of the next look, and whether a look heard is like it."""

import math

from voicelog.optics import checks
from voicelog.optics.angles import axis_difference_deg
from voicelog.optics.disagreement import FALSE_ALARM
from voicelog.optics.grouping import BELONGS_DEG
from voicelog.optics.judging import look_sd_d
from voicelog.optics.motion import signed
from voicelog.optics.problems import Problem
from voicelog.optics.readings import Look
from voicelog.optics.refraction import PowerVector
from voicelog.optics.significance import one_sided_limit_sd
from voicelog.optics.solution import LooksSolution
from voicelog.optics.uncertainty import USUAL_ERRORS, ErrorModel, half_width, power_along_sd_d
from voicelog.optics.written import written_degrees


def predicted(
    solution: LooksSolution, meridian_deg: float, errors: ErrorModel = USUAL_ERRORS
) -> tuple[float, float] | None:
    """Neutral power along a meridian (degrees) and its standard deviation, dioptres, as the looks were given.

    From the fit of a solved eye; else from the neutral that stands within 10 degrees of it, else from the
    bounds there. None where nothing is known. The error of the working distance, which the next look shares,
    is left out. Raises NotFiniteError, AxisError.
    """
    meridian = checks.axis("meridian", meridian_deg)
    if solution.status == "solved" and solution.vector is not None and solution.fit_covariance is not None:
        power = solution.vector.power_along_d(meridian) + solution.allowance_d
        return power, power_along_sd_d(solution.fit_covariance, meridian)
    near = [
        each
        for each in solution.meridians
        if abs(axis_difference_deg(each.meridian_deg, meridian)) <= BELONGS_DEG
    ]
    for each in sorted(near, key=lambda seen: abs(axis_difference_deg(seen.meridian_deg, meridian))):
        if each.neutral_d is not None:
            return each.neutral_d, errors.reading_sd_d
        if each.midpoint_d is not None and each.midpoint_sd_d is not None:
            return each.midpoint_d, each.midpoint_sd_d
    return None


def fits(
    solution: LooksSolution,
    look: Look,
    errors: ErrorModel = USUAL_ERRORS,
    false_alarm: float = FALSE_ALARM,
) -> Problem | None:
    """None when a further look is like what the looks so far predict; else the problem to ask about.

    The limit is the difference that true looks reach with the chance `false_alarm`, either way for a neutral
    lens, on its wrong side for a motion. Problem code "unlike_prediction".
    """
    known = predicted(solution, look.meridian_deg, errors)
    if known is None:
        return None
    power, sd = known
    vector = solution.vector if solution.status == "solved" else None
    spread = math.hypot(sd, look_sd_d(vector or PowerVector(0.0, 0.0, 0.0), look, errors))
    off = look.power_d - power
    if look.motion == "neutral":
        unlike = abs(off) > one_sided_limit_sd(false_alarm / 2.0) * spread
        seen = "neutral"
    else:
        unlike = (off if look.wants_plus else -off) > one_sided_limit_sd(false_alarm) * spread
        seen = f"{look.motion} motion"
    if not unlike:
        return None
    place = f"the {written_degrees(look.meridian_deg)} meridian"
    text = (
        f"{signed(look.power_d)} {seen} in {place} is unlike the looks so far, "
        f"which give {signed(power)} {half_width(2.0 * sd)} there"
    )
    return Problem("unlike_prediction", text)


def cylinder_share(axis_deg: float, meridian_deg: float) -> float:
    """Share of a cylinder's power that acts along a meridian, 0 to 1: sin^2 of the angle from its axis.

    0 along its axis, where it has no power; 1 across it. A cylinder meant to neutralise the meridian swept has
    its axis along the streak, across the meridian. Raises NotFiniteError, AxisError.
    Source: Burek, Ophthalmic Physiol Opt 1990;10, equation 1.
    """
    turn = axis_difference_deg(checks.axis("meridian", meridian_deg), checks.axis("axis", axis_deg))
    return math.sin(math.radians(turn)) ** 2
