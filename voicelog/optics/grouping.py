"""Looks sorted into meridians, and which neutral of a meridian stands."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.optics.angles import axis_difference_deg, normalise_axis_deg
from voicelog.optics.errors import RepeatsError
from voicelog.optics.readings import Look

Repeats = Literal["last", "mean"]

BELONGS_DEG: Final = 10.0
# A meridian this near to a measured one is that one again, and two this near to a right angle are a pair.
# About three standard deviations of a streak's angle; a principal meridian missed by it has its power off by
# 3 % of the cylinder (sin^2 10). Our choice, no source.


@dataclass(slots=True)
class MeridianGroup:
    """One meridian (degrees): indices of the looks that belong to it, and of the neutral ones that stand."""

    meridian_deg: float
    looks: list[int]
    standing: list[int]


def group_looks(looks: Sequence[Look], repeats: Repeats) -> list[MeridianGroup]:
    """Meridians in order of appearance. A look belongs to the nearest look before it within 10 degrees, modulo 180.

    A meridian lies where its standing neutral was seen. With "last" that is the last one, and earlier ones
    are superseded; with "mean" all stand, and the meridian is the mean of theirs. Raises RepeatsError.
    """
    if repeats not in ("last", "mean"):
        raise RepeatsError(f'repeats is {repeats!r}; allowed is "last" or "mean"')
    groups: list[MeridianGroup] = []
    group_of: dict[float, MeridianGroup] = {}  # by meridian, in the order in which they were first looked at
    for index, look in enumerate(looks):
        group = group_of.get(look.meridian_deg)
        if group is None:
            group = _nearest(group_of, look.meridian_deg)
            if group is None:
                group = MeridianGroup(look.meridian_deg, [], [])
                groups.append(group)
            group_of[look.meridian_deg] = group
        group.looks.append(index)
        if look.motion == "neutral":
            group.standing = [index] if repeats == "last" else [*group.standing, index]
            group.meridian_deg = _mean_meridian_deg([looks[each].meridian_deg for each in group.standing])
    return groups


def _nearest(group_of: Mapping[float, MeridianGroup], meridian_deg: float) -> MeridianGroup | None:
    off_deg = {before: abs(axis_difference_deg(meridian_deg, before)) for before in group_of}
    nearest = min(off_deg, key=off_deg.__getitem__, default=None)
    return group_of[nearest] if nearest is not None and off_deg[nearest] <= BELONGS_DEG else None


def _mean_meridian_deg(meridians_deg: Sequence[float]) -> float:
    first = meridians_deg[0]
    if len(meridians_deg) == 1:
        return first
    turns = [axis_difference_deg(meridian, first) for meridian in meridians_deg]
    return normalise_axis_deg(first + math.fsum(turns) / len(turns))
