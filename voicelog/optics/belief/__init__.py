"""What every look says of an eye: a posterior over (M, J0, J45) from all of them, beside the plain result."""

from voicelog.optics.belief.glance import LAPSE, NOISE_SPREAD, USUAL_DISTANCE_M, Glance, LookModel, Speed
from voicelog.optics.belief.next_look import (
    Costs,
    Enough,
    InPlace,
    NextLook,
    Technique,
    advise,
    expected_gain,
)
from voicelog.optics.belief.posterior import Belief, along_band_deg, believe
from voicelog.optics.belief.prior import (
    WIDE_PRIOR,
    Prior,
    PriorPart,
    age_prior,
    drift_sd_d,
    earlier_prior,
    spectacles_prior,
)

__all__ = [
    "LAPSE",
    "NOISE_SPREAD",
    "USUAL_DISTANCE_M",
    "WIDE_PRIOR",
    "Belief",
    "Costs",
    "Enough",
    "Glance",
    "InPlace",
    "LookModel",
    "NextLook",
    "Prior",
    "PriorPart",
    "Speed",
    "Technique",
    "advise",
    "age_prior",
    "along_band_deg",
    "believe",
    "drift_sd_d",
    "earlier_prior",
    "expected_gain",
    "spectacles_prior",
]
