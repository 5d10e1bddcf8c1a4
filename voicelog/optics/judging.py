"""What does not agree: readings with each other, and motions with the fit, in words."""

import math
from collections.abc import Sequence
from typing import Final

from voicelog.optics.disagreement import FALSE_ALARM
from voicelog.optics.meridian_fit import MeridianFit
from voicelog.optics.motion import asks, signed
from voicelog.optics.problems import Problem
from voicelog.optics.readings import Look
from voicelog.optics.refraction import PowerVector
from voicelog.optics.significance import one_sided_limit_sd
from voicelog.optics.solution import Contradiction
from voicelog.optics.uncertainty import ErrorModel, Matrix, half_width, power_along_sd_d, power_sds_d
from voicelog.optics.written import written_degrees, written_power

_TOP_SHARE: Final = 0.9  # a residual this near to the largest is as suspect as the largest


def find_disagreement(
    fit: MeridianFit, readings: Sequence[Look], allowance_d: float
) -> tuple[Problem | None, int | None]:
    """A problem when the n readings fitted disagree, and the position of the worst one if they can tell.

    With one reading more than needed all standardised residuals are equal, whichever is wrong.
    """
    judged = fit.judged()
    if not judged.conflict:
        return None, None
    sizes = [abs(value) for value in judged.standardised[: len(readings)]]
    suspects = [position for position, size in enumerate(sizes) if size >= _TOP_SHARE * max(sizes)]
    worst = suspects[0] if len(suspects) == 1 else None
    if worst is None:
        named = " or ".join(_named(readings[position]) for position in suspects)
        text = f"the readings disagree: {named} does not fit"
    else:
        expected = judged.expected_d[worst] + allowance_d
        others = f"the others give {written_power(expected)} there"
        text = f"the readings disagree: {_named(readings[worst])} fits worst, {others}"
    return Problem("disagreement", text + _sign_hint(fit, readings, allowance_d)), worst


def _sign_hint(fit: MeridianFit, readings: Sequence[Look], allowance_d: float) -> str:
    """What to do: measure again, or look at the one reading whose other sign would settle it.

    A lost sign is the commonest slip; it is only ever pointed at, never corrected.
    """
    settled = [
        position
        for position, reading in enumerate(readings)
        if reading.power_d and not fit.judged((position, -reading.power_d - allowance_d)).conflict
    ]
    if len(settled) != 1:
        return "; measure again"
    reading = readings[settled[0]]
    other = written_power(-reading.power_d)
    return f"; with {other} at meridian {written_degrees(reading.meridian_deg)} all would agree"


def _named(reading: Look) -> str:
    return f"{written_power(reading.power_d)} at meridian {written_degrees(reading.meridian_deg)}"


def motions_against_fit(
    vector: PowerVector,
    covariance: Matrix,
    motions: Sequence[tuple[int, Look]],
    allowance_d: float,
    errors: ErrorModel,
) -> list[Contradiction]:
    """Contradictions between a fit and motions (index and look), beyond the errors of both.

    A motion bounds the neutral power on one side only, so each is tested on that side; the chance of any
    false alarm over all of them is 1 % (Bonferroni).
    """
    found = []
    limit = one_sided_limit_sd(FALSE_ALARM / len(motions)) if motions else math.inf
    for index, look in motions:
        power = vector.power_along_d(look.meridian_deg) + allowance_d
        fit_sd = power_along_sd_d(covariance, look.meridian_deg)
        beyond = look.power_d - power if look.wants_plus else power - look.power_d
        if beyond > limit * math.hypot(fit_sd, look_sd_d(vector, look, errors)):
            text = f"{asks(look)}; the neutral lenses give {signed(power)} {half_width(2.0 * fit_sd)} there"
            found.append(Contradiction(Problem("motion_against_fit", text), (index,)))
    return found


def look_sd_d(vector: PowerVector, look: Look, errors: ErrorModel) -> float:
    """Standard deviation of one look at an eye, dioptres: the judgement's and the streak's, a neutral lens's step.

    The lens of a motion was in place, whatever the step; a neutral lens is the nearest of the set.
    """
    own = errors.reading_sd_d if look.motion == "neutral" else errors.neutrality_sd_d
    return power_sds_d(vector, [look.meridian_deg], [own], errors)[0]
