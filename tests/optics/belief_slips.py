"""Which look was the gross slip: what the best rule could name, worked out by NumPy alone.

The rule knows more than a reader ever does: that there was one slip, that a lens was named GROSS_SLIP_D off to the side that the
answer contradicts, among which looks, and how unevenly the examiner judges. It then names the likeliest look. Streaks are laid along
the band, so each meridian has a power of its own. No rule that knows less names more, in the mean.
"""

import math
from collections.abc import Sequence

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
    """Index of the look that the ideal rule names: no speed words, every power alike likely before."""
    logs = [_log_chance(look.power_d, look.motion, noise_d) for look in looks]
    meridians = [round(look.meridian_deg) % 180 for look in looks]
    whole = {
        each: np.sum([log for log, meridian in zip(logs, meridians, strict=True) if meridian == each], axis=0)
        for each in set(meridians)
    }
    gains = {}
    for index in range(FIRST_SLIP, min(LAST_SLIP + 1, len(looks))):
        look, before = looks[index], whole[meridians[index]]
        meant = look.power_d + (GROSS_SLIP_D if look.motion == "against" else -GROSS_SLIP_D)
        instead = before - logs[index] + _log_chance(meant, look.motion, noise_d)
        # The other meridian is the same either way.
        gains[index] = float(np.logaddexp.reduce(instead) - np.logaddexp.reduce(before))
    return max(gains, key=lambda index: gains[index])


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
