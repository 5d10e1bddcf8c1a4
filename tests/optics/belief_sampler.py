"""A second way to the same belief that shares no code with it: many Metropolis chains over everything unknown.

Unknown are the eye (M, J0, J45), the turn of the streak in each meridian, the error of the working distance and how unevenly
this examiner judges (a log-normal factor of the mean square 1); the chance of each answer is SciPy's normal distribution,
written out afresh.
(Metropolis et al., J Chem Phys 1953;21:1087; the method is standard, written from memory.)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from voicelog.optics import Motion
from voicelog.optics.belief import Speed

SD_D, HALF_D, STREAK_RAD = 0.26, 0.125, np.radians(3.0)
M_SD_D, J_SD_D, J_FLAT_D = 5.0, 0.5, 3.0
SPREAD_OF_NOISE = 0.48
FAST_D, SLOW_D, SPREAD = 0.5, 2.0, 0.25

Seen = tuple[float, float, Motion, Speed | Literal[""]]
"""Meridian in degrees, net lens power in dioptres, motion, and "fast", "slow" or ""."""


@dataclass(frozen=True)
class Sampled:
    """Draws of M, J0, J45, dioptres, shape (n, 3)."""

    draws: NDArray[np.float64]


def _answer(
    away: NDArray[np.float64], sd: NDArray[np.float64], motion: str, speed: str
) -> NDArray[np.float64]:
    if motion == "neutral":
        return np.asarray(ndtr((HALF_D - away) / sd) - ndtr((-HALF_D - away) / sd))
    if motion == "against":
        away = -away
    beyond = {
        name: ndtr((away - limit) / np.hypot(sd, SPREAD * limit))
        for name, limit in (("fast", FAST_D), ("slow", SLOW_D))
    }
    moved = ndtr((away - HALF_D) / sd)
    if speed == "fast":
        return np.asarray(np.maximum(moved - beyond["fast"], 0.0))
    return np.asarray(np.minimum(beyond["slow"], moved) if speed == "slow" else moved)


def _log_posterior(
    x: NDArray[np.float64], looks: Sequence[Seen], lapse: float, allowance_sd: float
) -> NDArray[np.float64]:
    """x: columns M, J0, J45; in standard deviations the distance's error, the noise's logarithm, a turn for each meridian."""
    beyond = np.maximum(np.hypot(x[:, 1], x[:, 2]) - J_FLAT_D, 0.0)
    total = -0.5 * ((x[:, 0] / M_SD_D) ** 2 + (beyond / J_SD_D) ** 2 + (x[:, 3:] ** 2).sum(axis=1))
    sd = SD_D * np.exp(SPREAD_OF_NOISE * x[:, 4] - SPREAD_OF_NOISE**2)
    meridians = sorted({look[0] for look in looks})
    for meridian, power, motion, speed in looks:
        turned = np.radians(meridian) + STREAK_RAD * x[:, 5 + meridians.index(meridian)]
        linear = np.radians(2.0 * meridian), 2.0 * (turned - np.radians(meridian))
        there = x[:, 0] + x[:, 1] * np.cos(linear[0]) + x[:, 2] * np.sin(linear[0])
        there += linear[1] * (x[:, 2] * np.cos(linear[0]) - x[:, 1] * np.sin(linear[0]))
        chance = _answer(there + allowance_sd * x[:, 3] - power, sd, motion, speed)
        slip = lapse / 3.0 / (3.0 if speed else 1.0)
        total += np.log((1.0 - lapse) * chance + slip + 1e-300)
    return np.asarray(total)


def sample(
    looks: Sequence[Seen], start: Sequence[float], *, lapse: float, allowance_sd: float, seed: int = 1
) -> Sampled:
    """600 chains of 1000 steps from around `start` (M, J0, J45); the last 700 count."""
    rng = np.random.default_rng(seed)
    count = 5 + len({look[0] for look in looks})
    x = rng.normal(0.0, 1.0, (600, count))
    x[:, :3] = np.asarray(start) + 0.2 * x[:, :3]
    here = _log_posterior(x, looks, lapse, allowance_sd)
    kept = []
    for step in range(1000):
        scale = np.ones(count)
        scale[:3] = 0.25
        tried = x + rng.normal(0.0, rng.choice([0.2, 0.6, 1.2, 5.0]), x.shape) * scale
        there = _log_posterior(tried, looks, lapse, allowance_sd)
        taken = np.log(rng.random(len(x))) < there - here
        x[taken], here[taken] = tried[taken], there[taken]
        if step >= 300 and step % 5 == 0:
            kept.append(x[:, :3].copy())
    return Sampled(np.concatenate(kept))
