"""How good an examiner is, in numbers: agreement of methods, repeatability, axis scatter, a distance held wrongly."""

from voicelog.optics.audit.axis_scatter import CYLINDER_BANDS_D, AxisBand, axis_scatter
from voicelog.optics.audit.distance_bias import DistanceBias, distance_bias
from voicelog.optics.audit.intervals import CONFIDENCE, Interval
from voicelog.optics.audit.limits_of_agreement import MethodAgreement, method_agreement
from voicelog.optics.audit.repeatability import Repeatability, own_errors, repeatability

__all__ = [
    "CONFIDENCE",
    "CYLINDER_BANDS_D",
    "AxisBand",
    "DistanceBias",
    "Interval",
    "MethodAgreement",
    "Repeatability",
    "axis_scatter",
    "distance_bias",
    "method_agreement",
    "own_errors",
    "repeatability",
]
