"""What the looks say of an eye in front of the retinoscope: a log likelihood over gross (M, J0, J45).

All looks along one meridian share one setting of the streak, turned by a common normal error e, so that they are looks
at F(t + e) = F(t) + 2 T e, with T half the change of power for a turn of the streak. Their product is one curve over
the power along the meridian, kept in a table blurred by a normal error of each width that 2 T e may have. Blurring it
further by the width of a cell gives a coarse grid that cannot step over a narrow peak.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicelog.optics.angles import axis_difference_deg, double_angle
from voicelog.optics.belief.answers import Array, chance, slip_chance, true_chance
from voicelog.optics.belief.glance import Glance, LookModel

_STEP_D: Final = 1.0 / 32.0
_HALF_COUNT: Final = 1024  # the table reaches 32 D either way
_BLUR_STEP_D: Final = 0.07
_BLURS: Final = 18
_LEAST: Final = 1e-14  # of the largest; what is less likely the Fourier transform does not know
_POWERS_D: Final = np.arange(-_HALF_COUNT, _HALF_COUNT, dtype=np.float64) * np.float64(_STEP_D)
_CELL_BLUR: Final = math.sqrt(2.0 / 12.0)  # of a cell's width: M and one J, both uniform
BAND_SD_DEG: Final = 5.0  # how well the direction of a band is judged: our own choice, no source


def _transfers() -> NDArray[np.float64]:
    """Fourier transforms of the normal errors, one row a width."""
    frequency = np.fft.rfftfreq(2 * _HALF_COUNT, _STEP_D)
    widths = np.arange(_BLURS) * _BLUR_STEP_D
    return np.exp(-2.0 * (np.pi * widths[:, None] * frequency[None, :]) ** 2)


_TRANSFERS: Final = _transfers()


@lru_cache(maxsize=256)
def _log_chances(glance: Glance, model: LookModel) -> Array:
    """Log chance of one glance over the powers of the table."""
    return np.log(chance(_POWERS_D - glance.look.power_d, glance, model))


@lru_cache(maxsize=64)
def _table(glances: tuple[Glance, ...], model: LookModel) -> NDArray[np.float32]:
    """Log likelihood of the looks of one meridian, blurred: one row a width, flattened."""
    total = np.sum([_log_chances(glance, model) for glance in glances], axis=0)
    top = total.max()
    curve = np.exp(total - top)
    blurred = np.fft.irfft(np.fft.rfft(curve)[None, :] * _TRANSFERS, n=2 * _HALF_COUNT)
    blurred[0] = curve
    # The highest of it counts as well: it tells one noise from another.
    return np.log(np.maximum(blurred, _LEAST).astype(np.float32)).ravel() + np.float32(top)


@dataclass(frozen=True, slots=True)
class Evidence:
    """The looks of one eye, sorted by meridian, and how they are read.

    along_band_deg  a meridian whose streak lay along the band, degrees: the eye's principal meridians are there and
                    across it, as well as a streak can be set; None when that is not known
    """

    glances: tuple[Glance, ...]
    model: LookModel
    along_band_deg: float | None = None

    def log_likelihood(self, points: Array, cell_d: float = 0.0) -> Array:
        """Log likelihood (n values, up to a constant) at gross points (M, J0, J45), shape (3, n), blurred by cells."""
        by_noise = self.by_noise(points, cell_d)
        top = by_noise.max(axis=0)
        total: Array = top + np.log(np.exp(by_noise - top).sum(axis=0))
        return total

    def by_noise(self, points: Array, cell_d: float = 0.0) -> Array:
        """The same with each noise that the judgement may have, its share counted: shape (noises, n)."""
        models = [model for _, model in self.model.by_noise]
        total = np.repeat([[math.log(share)] for share, _ in self.model.by_noise], points.shape[1], axis=1)
        streak_sd = math.radians(self.model.errors.streak_sd_deg)
        for glances in self.by_meridian():
            power, torsion = _along(points, glances[0].direction)
            blur = np.sqrt((2.0 * streak_sd * torsion) ** 2 + (_CELL_BLUR * cell_d) ** 2)
            row = np.minimum((blur / _BLUR_STEP_D + 0.5).astype(np.int32), _BLURS - 1)
            column = (power / _STEP_D + (_HALF_COUNT + 0.5)).astype(np.int32)
            column = np.minimum(np.maximum(column, 0), 2 * _HALF_COUNT - 1)
            place = row * (2 * _HALF_COUNT) + column
            bands = [glance for glance in glances if glance.band_deg is not None]
            for noise, model in enumerate(models):
                total[noise] += _table(glances, model).take(place)
                for glance in bands:
                    total[noise] += self._band(glance, model, power, torsion, cell_d)
        if self.along_band_deg is not None:
            total += self._along_band(self.along_band_deg, points, cell_d)
        return total

    def by_meridian(self) -> list[tuple[Glance, ...]]:
        """The glances of each meridian, in order of appearance."""
        sorted_ones: dict[float, list[Glance]] = {}
        for glance in self.glances:
            sorted_ones.setdefault(round(glance.look.meridian_deg, 1), []).append(glance)
        return [tuple(each) for each in sorted_ones.values()]

    def _band(self, glance: Glance, model: LookModel, power: Array, torsion: Array, cell_d: float) -> Array:
        """The band stands at the streak turned by atan(torsion / distance from neutral) (see practice/reflex)."""
        seen = axis_difference_deg(glance.band_deg or 0.0, glance.look.meridian_deg + 90.0)
        distance = power - glance.look.power_d
        turn = np.degrees(np.arctan2(torsion * np.sign(distance), np.abs(distance)))
        off = (seen - turn + 90.0) % 180.0 - 90.0
        # The setting of the streak, and what the judgement of the distance and the cell make of the angle.
        size = np.maximum(np.hypot(distance, torsion), model.sd_d)
        blurred = np.degrees(np.hypot(model.sd_d * np.abs(torsion) / size, _CELL_BLUR * cell_d) / size)
        variance = BAND_SD_DEG**2 + self.model.errors.streak_sd_deg**2 + blurred**2
        meant = np.exp(-0.5 * off**2 / variance) / np.sqrt(2.0 * np.pi * variance)
        chance: Array = (1.0 - self.model.lapse) * meant + max(self.model.lapse, 1e-6) / 180.0
        return np.log(chance)

    def _along_band(self, meridian_deg: float, points: Array, cell_d: float) -> Array:
        """The streak was laid along the band: the oblique part of the cylinder is zero, with an error. One row a noise.

        That error is the plain result's: the setting of the streak, and what cannot be seen off axis with one reading
        in each meridian. (As the chance of the angle found it would hold the cylinder's size as a further factor; with
        every size held equally likely before, rather than every (J0, J45), the two cancel.)
        """
        _, across = _along(points, double_angle(meridian_deg))
        turned = (2.0 * math.radians(self.model.errors.streak_sd_deg)) ** 2 * (
            points[1] ** 2 + points[2] ** 2
        )
        unseen = [model.errors.reading_sd_d**2 / 2.0 for _, model in self.model.by_noise]
        variance = (np.array(unseen) + cell_d**2 / 12.0)[:, None] + turned
        log_density: Array = -0.5 * (across**2 / variance + np.log(variance))
        return log_density

    def slip_chances(self, points: Array, weights: Array) -> tuple[float, ...]:
        """For each glance, the chance that it was a slip; gross points, shape (3, n), and n weights (sum 1)."""
        by_noise = self.by_noise(points)
        shares = np.exp(by_noise - by_noise.max(axis=0))
        shares *= weights / shares.sum(axis=0)
        found = []
        spreads: dict[tuple[float, float], tuple[Array, Array]] = {}
        for glance in self.glances:
            if glance.direction not in spreads:
                spreads[glance.direction] = _binned(_along(points, glance.direction)[0], shares)
            powers, binned = spreads[glance.direction]
            distance = powers - glance.look.power_d
            slip = slip_chance(glance, self.model)
            chances = 0.0
            for share, (_, model) in zip(binned, self.model.by_noise, strict=True):
                meant = (1.0 - model.lapse) * true_chance(distance, glance, model)
                chances += float(share @ (slip / np.maximum(slip + meant, 1e-300)))
            found.append(chances)
        return tuple(found)


def _binned(powers_d: Array, shares: Array) -> tuple[Array, Array]:
    """Powers in steps of the table, and how much of the shares, shape (noises, n), each has: shape (noises, steps)."""
    steps = np.rint(powers_d / _STEP_D).astype(np.int64)
    least = int(steps.min())
    binned: Array = np.stack([np.bincount(steps - least, row).astype(np.float64) for row in shares])
    powers: Array = (least + np.arange(binned.shape[1], dtype=np.float64)) * np.float64(_STEP_D)
    return powers, binned


def _along(points: Array, direction: tuple[float, float]) -> tuple[Array, Array]:
    """Power along a meridian and half its change for a turn, dioptres: n values each of points, shape (3, n)."""
    cosine, sine = direction
    m, j0, j45 = points
    return m + cosine * j0 + sine * j45, cosine * j45 - sine * j0
