"""Which look was the gross slip: what the best rules could name, worked out by NumPy alone.

Both know how unevenly the examiner judges, that a slip names a lens GROSS_SLIP_D off, and that every power was alike likely before.
Streaks are laid along the band, so each meridian has a power of its own. No speed words.
"""

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tests.optics.belief_exams import GROSS_SLIP_D, HALF_STEP_D
from voicelog.optics import Look

Array = NDArray[np.float64]

FIRST_SLIP, LAST_SLIP = 3, 14
_POWERS_D: Array = np.arange(-20.0, 20.0, 1.0 / 64.0)
_NODES = np.linspace(-9.0, 9.0, 9217)
_NORMAL = np.array([0.5 * math.erfc(-node / math.sqrt(2.0)) for node in _NODES.tolist()])


def likeliest_slip(looks: Sequence[Look], noise_d: float) -> int:
    """Index of the look that is named by a rule which is told that there was one slip, among which looks, and to which side."""
    gains = {
        index: _gain(
            looks, index, GROSS_SLIP_D if looks[index].motion == "against" else -GROSS_SLIP_D, noise_d
        )
        for index in range(FIRST_SLIP, min(LAST_SLIP + 1, len(looks)))
    }
    return max(gains, key=lambda index: gains[index])


def likely_slip(looks: Sequence[Look], noise_d: float, lapse: float) -> int | None:
    """Index of the look that was more likely a slip than not, by a rule which is told the chance of a slip a look; None: no look."""
    gains = [
        float(
            np.logaddexp(
                _gain(looks, index, GROSS_SLIP_D, noise_d), _gain(looks, index, -GROSS_SLIP_D, noise_d)
            )
        )
        - math.log(2.0)
        for index in range(len(looks))
    ]
    odds = np.exp(gains) * lapse / (1.0 - lapse)
    chances = odds / (1.0 + odds.sum())
    index = int(chances.argmax())
    return index if chances[index] > 0.5 else None


def _gain(looks: Sequence[Look], index: int, off_d: float, noise_d: float) -> float:
    """How much likelier all looks are where the lens of one was `off_d` (dioptres) from what was named: a logarithm."""
    look = looks[index]
    meridian = round(look.meridian_deg) % 180
    others = np.zeros(len(_POWERS_D))
    for number, each in enumerate(looks):
        if number != index and round(each.meridian_deg) % 180 == meridian:
            others += _log_chance(each.power_d, each.motion, noise_d)
    instead = others + _log_chance(look.power_d + off_d, look.motion, noise_d)
    as_said = others + _log_chance(look.power_d, look.motion, noise_d)
    return float(np.logaddexp.reduce(instead) - np.logaddexp.reduce(as_said))


@lru_cache(maxsize=4096)
def _log_chance(power_d: float, motion: str, noise_d: float) -> Array:
    """Log chance of an answer about a lens, over the powers that the meridian may have."""
    away = _POWERS_D - power_d
    if motion == "neutral":
        chance = _below((HALF_STEP_D - away) / noise_d) - _below((-HALF_STEP_D - away) / noise_d)
    else:
        chance = _below(((away if motion == "with" else -away) - HALF_STEP_D) / noise_d)
    log: Array = np.log(np.maximum(chance, 1e-300))
    return log


def _below(value: Array) -> Array:
    below: Array = np.interp(value, _NODES, _NORMAL)
    return below
