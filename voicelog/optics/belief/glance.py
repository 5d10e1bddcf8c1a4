"""One look with all that was said of it, and the slips and habits by which looks are read."""

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final, Literal

from voicelog.optics import checks
from voicelog.optics.angles import double_angle
from voicelog.optics.errors import ErrorModelError
from voicelog.optics.readings import Look
from voicelog.optics.reflex_speed import FAST_SEEN, FASTEST_SEEN, SLOW_SEEN, error_at_speed_d
from voicelog.optics.uncertainty import USUAL_ERRORS, ErrorModel

Speed = Literal["fast", "slow"]
Side = Literal["plus", "minus", "neutral"]
"""Where the neutral power lies as seen from the lens in place."""

USUAL_DISTANCE_M: Final = 2.0 / 3.0
# Our own choice, no source.
LAPSE: Final = 0.01
SLIP_RANGE_D: Final = 20.0
"""A neutral lens named by a slip may be any within this range."""
THRESHOLD_SPREAD: Final = 0.25
"""Standard deviation of where one calls a reflex fast or slow, as a share of that distance from neutral."""
DULL_BY_MEDIA: Final = 0.3
"""Share of dull reflexes that have another cause than the distance from neutral, and so tell nothing."""
DULL_FROM_D: Final = 3.0
DULL_SPREAD_D: Final = 1.5
NOISE_SPREAD: Final = 0.48
"""Standard deviation, between examiners, of the logarithm of how unevenly they judge neutrality.

Two examiners of one study (PMC10996980, table 2: 95 % limits against one instrument 1.16 and 1.84 D wide) differ by a
factor of 1.59: a standard deviation of ln 1.59 / sqrt(2) = 0.33, and of 0.33 sqrt(1 + 1/2) = 0.40 for a further
examiner, since two fix their own middle no better. Three others point the same way (Harvey et al., Optom Vis Sci
2000;77:140-9: reproducibility 0.41 D with a standard deviation of 0.18 D, 0.42 as a logarithm). So few do not fix the
spread itself: a further examiner is Student's t with 1 + 2 degrees of freedom, whose middle 68 % reach 1.20 times as
far as a normal value's, 0.48."""
LEAST_NEUTRALITY_SD_D: Final = 0.05
"""A judgement said to be without error is still one by eye."""


@dataclass(frozen=True, slots=True)
class Glance:
    """A look, and what else was said of the reflex.

    speed     "fast" or "slow"; None when nothing was said
    dull      whether it was called dull
    band_deg  direction of the band in the pupil, degrees; None when it was not named
    found     a neutral lens that was looked for unheard, though other looks were told
    """

    look: Look
    speed: Speed | None = None
    dull: bool = False
    band_deg: float | None = None
    found: bool = False

    def __post_init__(self) -> None:
        if self.band_deg is not None:
            object.__setattr__(self, "band_deg", checks.axis("band", self.band_deg))

    @property
    def side(self) -> Side:
        """Where the neutral power lies as seen from the lens; the mirror's reversal is undone."""
        if self.look.motion == "neutral":
            return "neutral"
        return "plus" if self.look.wants_plus else "minus"

    @property
    def direction(self) -> tuple[float, float]:
        """Cosine and sine of the doubled meridian: the weights of J0 and J45 in the power along it."""
        return double_angle(self.look.meridian_deg)


_NOISE_NODES: Final = ((-math.sqrt(3.0), 1.0 / 6.0), (0.0, 2.0 / 3.0), (math.sqrt(3.0), 1.0 / 6.0))
"""Gauss's three points and shares for a normal value."""


@dataclass(frozen=True)
class LookModel:
    """By what the looks of an eye are read.

    errors       standard deviations; neutrality, streak, allowance and lens step are those of the plain result
    distance_m   working distance, metres; what is called fast or slow depends on it
    lapse        chance that a look was entered as something it was not
    all_told     whether every look was told, as when the lens was advised: a slip then is another answer about that
                 lens. Else the examiner looked for the neutral lens unheard, and a slip is another lens
    speed_words  whether the examiner says fast and slow as a habit, so that saying neither means between
    noise_spread how much the judgement's standard deviation may be off for this exam: that of its logarithm; the
                 stated value is the root mean square over what it may be. 0: it is known
    Raises DistanceError, ErrorModelError, NotFiniteError.
    """

    errors: ErrorModel = field(default=USUAL_ERRORS)
    distance_m: float = USUAL_DISTANCE_M
    lapse: float = LAPSE
    all_told: bool = False
    speed_words: bool = False
    noise_spread: float = NOISE_SPREAD

    def __post_init__(self) -> None:
        checks.distance("working distance", self.distance_m)
        if not 0.0 <= checks.finite("lapse", self.lapse) < 1.0:
            raise ErrorModelError(f"lapse is {self.lapse:g}; 0 to below 1 is needed")
        if checks.finite("noise spread", self.noise_spread) < 0.0:
            raise ErrorModelError(f"noise spread is {self.noise_spread:g}; 0 or more is needed")

    @cached_property
    def by_noise(self) -> tuple[tuple[float, "LookModel"], ...]:
        """Shares, and models whose noise is known, that stand for the spread of the noise."""
        if self.noise_spread == 0.0:
            return ((1.0, self),)
        return tuple(
            (share, replace(self, errors=self._noisier(node), noise_spread=0.0))
            for node, share in _NOISE_NODES
        )

    def _noisier(self, node: float) -> ErrorModel:
        # A log-normal value with the mean square 1.
        factor = math.exp(self.noise_spread * node - self.noise_spread**2)
        return replace(self.errors, neutrality_sd_d=self.errors.neutrality_sd_d * factor)

    @property
    def sd_d(self) -> float:
        """Standard deviation of the judgement of one look, dioptres."""
        return max(self.errors.neutrality_sd_d, LEAST_NEUTRALITY_SD_D)

    @property
    def neutral_half_d(self) -> float:
        """Half the range that is called neutral, dioptres: half a lens step, or what moves too fast to be seen.

        With half a step it makes a neutral lens as sure as the reading of the plain result (`reading_sd_d`).
        """
        seen = error_at_speed_d(FASTEST_SEEN, 1.0 / self.distance_m)
        return max(seen, self.errors.lens_step_d / 2.0, LEAST_NEUTRALITY_SD_D)

    def speed_limit_d(self, speed: Speed, *, concave_mirror: bool) -> float:
        """Distance from neutral within which a reflex is fast, or beyond which it is slow, dioptres."""
        ratio = FAST_SEEN if speed == "fast" else SLOW_SEEN
        return error_at_speed_d(ratio, 1.0 / self.distance_m, concave_mirror=concave_mirror)
