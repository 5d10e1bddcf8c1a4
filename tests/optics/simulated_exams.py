"""Exams of true eyes under the tool's own error model, made by NumPy alone: nothing of the package builds a reading."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from voicelog.optics import PUBLISHED_NEUTRALITY_SD_D, ErrorModel, Look, PowerVector

ERRORS = ErrorModel(allowance_sd_d=0.045, neutrality_sd_d=PUBLISHED_NEUTRALITY_SD_D)
STEP_D = 0.25
KINDS = ("spherical", "toric")
CELLS = [(count, repeats) for count in range(2, 7) for repeats in (1, 2)]
REDUNDANT = [cell for cell in CELLS if cell not in ((2, 1), (3, 1))]
SLIP_D = 1.5


@dataclass(frozen=True)
class TrueEye:
    """Sphere and cylinder in dioptres, axis in degrees."""

    sphere_d: float
    cylinder_d: float
    axis_deg: float

    @property
    def vector(self) -> PowerVector:
        """The same as (M, J0, J45), written out afresh."""
        half, turn = -self.cylinder_d / 2.0, math.radians(2.0 * self.axis_deg)
        return PowerVector(self.sphere_d - half, half * math.cos(turn), half * math.sin(turn))

    def power_d(self, meridian_deg: float) -> float:
        """Power along a meridian, dioptres."""
        return self.sphere_d + self.cylinder_d * math.sin(math.radians(meridian_deg - self.axis_deg)) ** 2


@dataclass(frozen=True)
class SimulatedExam:
    """One eye read: what it is, and the neutral looks as they were named."""

    eye: TrueEye
    looks: list[Look]


def folded(angle_deg: float) -> float:
    """An angle in (0, 180]."""
    angle = angle_deg % 180.0
    return angle if angle > 0.0 else 180.0


def exams(kind: str, meridians: int, repeats: int, count: int, seed: int) -> Iterator[SimulatedExam]:
    """Random eyes read in evenly spread meridians, at a random orientation and from the horizontal in turn.

    Of two meridians the principal ones are read, as well as the examiner finds them: off by the streak's error and
    by what cannot be seen off axis.
    """
    rng = np.random.default_rng([seed, KINDS.index(kind), meridians, repeats])
    for number in range(count):
        cylinder = 0.0 if kind == "spherical" else -float(rng.uniform(0.5, 4.0))
        eye = TrueEye(float(rng.uniform(-6.0, 6.0)), cylinder, float(rng.uniform(0.0, 180.0)))
        start = 0.0 if number % 2 else float(rng.uniform(0.0, 180.0))
        swing = np.full(meridians * repeats, ERRORS.streak_sd_deg)
        if meridians == 2:
            start, swing = _principal_deg(eye, rng), swing * 0.0
        named = [folded(start + 180.0 * k / meridians) for _ in range(repeats) for k in range(meridians)]
        swept = named + rng.normal(0.0, swing)
        yield SimulatedExam(eye, _read(eye, named, swept.tolist(), rng))


def _principal_deg(eye: TrueEye, rng: np.random.Generator) -> float:
    if not eye.cylinder_d:
        return float(rng.uniform(0.0, 180.0))
    unseen = ERRORS.reading_sd_d / math.sqrt(2.0) / abs(eye.cylinder_d)
    turn = math.hypot(math.radians(ERRORS.streak_sd_deg), unseen)
    return eye.axis_deg + math.degrees(float(rng.normal(0.0, turn)))


def _read(eye: TrueEye, named: list[float], swept: list[float], rng: np.random.Generator) -> list[Look]:
    """The nearest lens of the set to where neutrality is judged; net of a distance known with an error."""
    distance = float(rng.normal(0.0, ERRORS.allowance_sd_d))
    phase = float(rng.uniform(-STEP_D / 2.0, STEP_D / 2.0))
    found = []
    for name, angle in zip(named, swept, strict=True):
        judged = eye.power_d(angle) + distance + float(rng.normal(0.0, ERRORS.neutrality_sd_d))
        found.append(Look(name, round((judged - phase) / STEP_D) * STEP_D + phase, "neutral"))
    return found


def design(meridians: int, repeats: int) -> np.ndarray:
    """What evenly spread readings measure: rows 1, cos 2t, sin 2t; of two meridians 1 and +1 or -1."""
    turns = np.tile(2.0 * np.pi * np.arange(meridians) / meridians, repeats)
    columns = [np.ones_like(turns), np.cos(turns), np.sin(turns)]
    return np.stack(columns[: min(meridians, 3)], axis=1)


def best_at_the_end(meridians: int, repeats: int, false_alarm: float = 0.01) -> float:
    """How often a finished exam can show a slip of 1.5 D in one of its readings, whichever, at 1 % false alarms.

    By the likelihood ratio: the largest standardised residual of readings with a known normal error, its limit
    and its power by simulation (Barnett & Lewis, "Outliers in Statistical Data", from memory).
    """
    rng = np.random.default_rng([meridians, repeats, 77])
    rows = design(meridians, repeats)
    left = np.eye(len(rows)) - rows @ np.linalg.pinv(rows)
    scale = np.sqrt(np.diag(left))
    noise = rng.normal(0.0, 1.0, (100_000, len(rows)))
    limit = np.quantile(np.abs(noise @ left / scale).max(axis=1), 1.0 - false_alarm)
    noise[:, 0] += SLIP_D / ERRORS.reading_sd_d
    return float((np.abs(noise @ left / scale).max(axis=1) > limit).mean())


def repeats_questioned(false_alarm: float = 0.01) -> float:
    """How often two true readings of one meridian differ by more than the limit for a continuous difference.

    They differ by whole lens steps, so that a little more than `false_alarm` lies beyond it.
    """
    rng = np.random.default_rng(78)
    phase = rng.uniform(-STEP_D / 2.0, STEP_D / 2.0, (400_000, 1))
    lenses = np.round((rng.normal(0.0, ERRORS.neutrality_sd_d, (400_000, 2)) - phase) / STEP_D) * STEP_D
    limit = NormalDist().inv_cdf(1.0 - false_alarm / 2.0) * math.sqrt(2.0) * ERRORS.reading_sd_d
    return float((np.abs(lenses[:, 0] - lenses[:, 1]) > limit).mean())


def best_knowing_where(meridians: int, repeats: int) -> float:
    """The same for someone who knows which reading may be wrong: no test at 1 % false alarms can be better."""
    leverage = min(meridians, 3) / (meridians * repeats)
    off = SLIP_D / ERRORS.reading_sd_d * math.sqrt(max(0.0, 1.0 - leverage))
    return 0.5 * math.erfc((2.5758 - off) / math.sqrt(2.0))
