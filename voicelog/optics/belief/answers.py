"""How likely each answer of the reflex is, by the distance from neutral along the meridian swept.

The distance is judged with a normal error. What is judged within half a range is called neutral, the rest by its side;
a reflex is fast or slow where its speed, the inverse of the distance, passes a limit that is not quite steady either.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicelog.optics.belief.glance import (
    DULL_BY_MEDIA,
    DULL_FROM_D,
    DULL_SPREAD_D,
    SLIP_RANGE_D,
    THRESHOLD_SPREAD,
    Glance,
    LookModel,
    Side,
    Speed,
)

Array = NDArray[np.float64]

_LARGEST_SD: Final = 9.0
_NODES = np.linspace(-_LARGEST_SD, _LARGEST_SD, 9217)
_NORMAL = np.array([0.5 * math.erfc(-node / math.sqrt(2.0)) for node in _NODES.tolist()])
LEAST_CHANCE: Final = 1e-30

ANSWERS: Final[tuple[tuple[Side, Speed | None], ...]] = (
    ("neutral", None),
    ("plus", None),
    ("minus", None),
    ("plus", "fast"),
    ("minus", "fast"),
    ("plus", "slow"),
    ("minus", "slow"),
)


def normal_below(value: Array) -> Array:
    """Chance that a standard normal value lies below each value: a table, right to 1e-6."""
    below: Array = np.interp(value, _NODES, _NORMAL)
    return below


def plain_chance(distance_d: Array, model: LookModel, side: Side) -> Array:
    """Chance of a motion or of neutral, by what the lens lacks along the meridian (dioptres, n values); no slips."""
    half, sd = model.neutral_half_d, model.sd_d
    if side == "neutral":
        return normal_below((half - distance_d) / sd) - normal_below((-half - distance_d) / sd)
    return normal_below(((distance_d if side == "plus" else -distance_d) - half) / sd)


def true_chance(distance_d: Array, glance: Glance, model: LookModel) -> Array:
    """Chance of all that was said of the reflex but its band (n values of distance, dioptres); no slips."""
    side, mirror = glance.side, glance.look.concave_mirror
    chance = plain_chance(distance_d, model, side)
    if side != "neutral" and (glance.speed is not None or model.speed_words):
        away = distance_d if side == "plus" else -distance_d
        slower = [_beyond(away, model, speed, mirror) for speed in ("fast", "slow")]
        not_fast, slow = np.minimum(slower[0], chance), np.minimum(slower[1], np.minimum(slower[0], chance))
        parts = {"fast": chance - not_fast, None: not_fast - slow, "slow": slow}
        chance = parts[glance.speed]
    if glance.dull:
        far = normal_below((np.abs(distance_d) - DULL_FROM_D) / DULL_SPREAD_D)
        chance = chance * (DULL_BY_MEDIA + (1.0 - DULL_BY_MEDIA) * far)
    return chance


def _beyond(away_d: Array, model: LookModel, speed: Speed, concave_mirror: bool) -> Array:
    """Chance that the distance is judged beyond the limit of a speed."""
    limit = model.speed_limit_d(speed, concave_mirror=concave_mirror)
    return normal_below((away_d - limit) / math.hypot(model.sd_d, THRESHOLD_SPREAD * limit))


def slip_chance(glance: Glance, model: LookModel) -> float:
    """Chance that this was said by a slip, whatever the eye: no slips, no chance."""
    if glance.side == "neutral" and (glance.found or not model.all_told):
        return model.lapse * 2.0 * model.neutral_half_d / SLIP_RANGE_D
    said = 1.0 / 3.0
    if glance.side != "neutral" and (glance.speed is not None or model.speed_words):
        said /= 3.0
    return model.lapse * said


def chance(distance_d: Array, glance: Glance, model: LookModel) -> Array:
    """Chance of a glance, slips counted (n values of distance, dioptres)."""
    meant = (1.0 - model.lapse) * true_chance(distance_d, glance, model)
    return np.maximum(meant + slip_chance(glance, model), LEAST_CHANCE)
