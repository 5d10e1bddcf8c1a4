"""What is missing before the readings make a refraction, and what to know of how they do, in words."""

from collections.abc import Sequence
from typing import Final

from voicelog.optics.angles import axis_difference_deg, normalise_axis_deg
from voicelog.optics.fitting import SAME_MERIDIAN_DEG, Fit, best_next_meridian_deg
from voicelog.optics.grouping import BELONGS_DEG
from voicelog.optics.motion import signed
from voicelog.optics.problems import Problem
from voicelog.optics.solution import MeridianSeen
from voicelog.optics.uncertainty import half_width
from voicelog.optics.written import written_degrees

POOR_AMPLIFICATION: Final = 3.5
USELESS_AMPLIFICATION: Final = 10.0
# Worst factor from reading error to result error. The rounding of quarter-step readings alone (0.07 D
# standard deviation) moves the result by a quarter dioptre at the first, by 0.7 D at the second.


def what_is_missing(meridians_deg: Sequence[float]) -> Problem | None:
    """The problem that stands in the way of a refraction from these meridians (degrees), or None."""
    if not meridians_deg:
        return Problem("no_readings", "no meridian has been measured")
    if len(meridians_deg) == 1:
        wanted = written_degrees(best_next_meridian_deg(meridians_deg))
        text = f"the {wanted} meridian is missing; only {listed(meridians_deg)} was measured"
        return Problem("meridian_missing", text)
    if len(meridians_deg) == 2 and off_right_angle_deg(meridians_deg) > BELONGS_DEG:
        return _third_needed(meridians_deg)
    return None


def _third_needed(pair: Sequence[float]) -> Problem:
    wanted = written_degrees(best_next_meridian_deg(pair))
    text = f"{_how_far_apart(pair)}, not 90: a third meridian is needed, best near {wanted}"
    return Problem("third_meridian_needed", text)


def off_right_angle_deg(pair: Sequence[float]) -> float:
    """How far two meridians are from a right angle, degrees."""
    return abs(abs(axis_difference_deg(pair[1], pair[0])) - 90.0)


def snapped_axis_deg(pair: Sequence[float]) -> float:
    """The first of the two meridians at right angles nearest to a pair, both turned by the same amount."""
    turn = axis_difference_deg(pair[1], pair[0])
    excess = turn - 90.0 if turn > 0.0 else turn + 90.0
    return normalise_axis_deg(pair[0] + excess / 2.0)


def snapped(pair: Sequence[float]) -> Problem | None:
    """That a pair was turned to a right angle; None when it stood at one."""
    if off_right_angle_deg(pair) <= SAME_MERIDIAN_DEG:
        return None
    axis = snapped_axis_deg(pair)
    text = f"{_how_far_apart(pair)}; taken as {listed([axis, normalise_axis_deg(axis + 90.0)])}"
    return Problem("snapped", text)


def _how_far_apart(pair: Sequence[float]) -> str:
    apart = abs(axis_difference_deg(pair[1], pair[0]))
    return f"meridians {listed(pair)} are {written_degrees(apart)} degrees apart"


def ill_conditioned(meridians_deg: Sequence[float], fit: Fit) -> Problem | None:
    """That the meridians fix the lens poorly; None when they fix it well."""
    if fit.amplification <= POOR_AMPLIFICATION:
        return None
    wanted = written_degrees(best_next_meridian_deg(meridians_deg))
    text = (
        f"meridians {listed(meridians_deg)} fix the lens poorly: 0.25 D in the readings can move it by "
        f"{0.25 * fit.amplification:.1f} D; measure near {wanted} as well"
    )
    return Problem("ill_conditioned", text)


def only_checked(pair: Sequence[float], others_deg: Sequence[float]) -> Problem | None:
    """That further meridians are too near to a pair to turn its axis; None without any."""
    if not others_deg:
        return None
    verb = "is" if len(others_deg) == 1 else "are"
    text = (
        f"{listed(others_deg)} {verb} too near to fix the axis better: the result is that of {listed(pair)}, "
        f"which the rest only checks"
    )
    return Problem("only_checked", text)


def not_neutral_yet(seen: MeridianSeen) -> Problem | None:
    """What motions alone say of a meridian, and what to do; None when they say nothing."""
    place = f"the {written_degrees(seen.meridian_deg)} meridian"
    if seen.midpoint_d is not None and seen.midpoint_sd_d is not None:
        text = (
            f"{place} lies between {signed(seen.lower_d or 0.0)} and {signed(seen.upper_d or 0.0)}, "
            f"about {signed(seen.midpoint_d)} {half_width(2.0 * seen.midpoint_sd_d)}; say neutral at the lens you take"
        )
        return Problem("not_neutral_yet", text)
    if (seen.lower_d is None) == (seen.upper_d is None):
        return None
    if seen.lower_d is not None:
        return Problem(
            "not_neutral_yet", f"{place} is more plus than {signed(seen.lower_d)}; not neutral yet"
        )
    return Problem(
        "not_neutral_yet", f"{place} is more minus than {signed(seen.upper_d or 0.0)}; not neutral yet"
    )


def listed(values: Sequence[float]) -> str:
    """Numbers in words: "60, 120 and 180"."""
    said = [f"{written_degrees(value)}" for value in values]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + f" and {said[-1]}"
