"""Bias and limits of agreement of two methods."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from voicelog.optics.audit.intervals import Interval, around, of_mean

LIMIT_SD: Final = 1.96
"""Limits of agreement hold 95 % of single differences (Bland & Altman, Lancet 1986;327:307-310)."""


@dataclass(frozen=True, slots=True)
class MethodAgreement:
    """First method less second, in the unit of the values.

    `values` differences of `exams` exams; `bias` is the mean of the exams' means, `sd` the standard deviation of single
    differences about it, `lower` and `upper` the limits of agreement of one eye.
    """

    exams: int
    values: int
    bias: float
    bias_interval: Interval
    sd: float
    lower: float
    lower_interval: Interval
    upper: float
    upper_interval: Interval


def method_agreement(exams: Sequence[Sequence[float]]) -> MethodAgreement | None:
    """Agreement from the differences of each exam (one or both eyes); None of fewer than two exams.

    Two eyes of a person are alike, so intervals count exams, not eyes. Bland & Altman, Lancet 1986;327:307-310, and
    Stat Methods Med Res 1999;8:135-160 (from memory): the variance of a limit is sd^2 (1/n + 1.96^2 / (2 (n - 1))).
    """
    means = [fmean(each) for each in exams]
    if len(means) < 2:
        return None
    bias = fmean(means)
    values = [value for each in exams for value in each]
    count = len(means)
    sd = math.sqrt(sum((value - bias) ** 2 for value in values) / (len(values) - 1))
    error = sd * math.sqrt(1.0 / count + LIMIT_SD**2 / (2.0 * (count - 1)))
    lower, upper = bias - LIMIT_SD * sd, bias + LIMIT_SD * sd
    return MethodAgreement(
        exams=count,
        values=len(values),
        bias=bias,
        bias_interval=of_mean(means),
        sd=sd,
        lower=lower,
        lower_interval=around(lower, error, count - 1),
        upper=upper,
        upper_interval=around(upper, error, count - 1),
    )
