"""Which reading of a line is the plain one, where the grammar allows several."""

from itertools import pairwise
from typing import Final

from voicelog.phrases import meanings as say
from voicelog.phrases.meanings import Meaning, Model
from voicelog.phrases.traversal import parts

LARGEST_LENS_D: Final = 40.0
_FEW_LENSES_D: Final = 10.0
_EIGHTHS = frozenset({0.0, 0.12, 0.125, 0.25, 0.37, 0.375, 0.5, 0.62, 0.625, 0.75, 0.87, 0.875})


def plainest(readings: tuple[tuple[Meaning, ...], ...]) -> tuple[tuple[Meaning, ...], ...]:
    """The readings that the least speaks against, in their order; more than one where nothing decides."""
    possible = [each for each in readings if not _is_no_power(each)]
    costs = [cost(each) for each in possible]
    return tuple(each for each, found in zip(possible, costs, strict=True) if found == min(costs))


def cost(reading: tuple[Meaning, ...]) -> tuple[float, int]:
    """What speaks against a reading of a line that has others, the first thing first.

    Words that can belong together do; nothing is put right where it need not be; "one eighty", which is no lens, is a
    place where it can be one. Of what is then alike, the one with fewer numbers: "streak one twenty five with" names
    one streak, and is not streak one with a lens of twenty five.
    """
    no_lens = sum(_is_no_lens(power) for meaning in reading for power in powers(meaning))
    # A bare "fifteen" that is put right is an axis or a distance before it is a lens.
    bare = sum(
        power.sign is None and (power.size_d or 0.0) >= _FEW_LENSES_D
        for meaning in reading
        if isinstance(meaning, say.Correction)
        for power in powers(meaning)
    )
    mended = sum(isinstance(meaning, say.Correction | say.NotBut) for meaning in reading)
    # Behind a lens that is called a cylinder, "at" says its axis before it says a meridian.
    no_axis = sum(each.axis_deg is None for meaning in reading for each in parts(meaning, say.Cylinder))
    left = sum(_is_left_at_once(one, other) or _with_lens(one, other) for one, other in pairwise(reading))
    # "Sixty seven, working lens in both eyes": a distance holds for both as it is.
    both = sum(isinstance(meaning, say.WorkingDistance) and meaning.eye == "both" for meaning in reading)
    said = len(reading) + 0.5 * no_lens + 0.25 * mended + 0.1 * (bare + no_axis + left + both)
    return said, sum(map(_numbers, reading))


def _is_left_at_once(one: Meaning, other: Meaning) -> bool:
    """ "Streak vertical plus three, streak horizontal" is a reading, and a streak that is laid for the next one."""
    if not isinstance(one, say.Place) or not isinstance(other, say.Reading) or other.where is None:
        return False
    return one.where.angle_deg is not None and one.where.angle_deg != other.where.angle_deg


def _with_lens(one: Meaning, other: Meaning) -> bool:
    """ "I'm at sixty seven with the working lens in" sees no with motion along sixty seven."""
    return isinstance(one, say.Reading) and one.motion == "with" and isinstance(other, say.WorkingLens)


def powers(model: Model) -> list[say.Power]:
    """Every power inside a meaning, those in tuples too."""
    if isinstance(model, say.Power):
        return [model]
    return [power for part in _parts(model) for power in powers(part)]


def _parts(model: Model) -> list[Model]:
    """The models directly inside a model, those in tuples too."""
    found: list[Model] = []
    for name in type(model).model_fields:
        value = getattr(model, name)
        found += [
            each for each in (value if isinstance(value, tuple) else (value,)) if isinstance(each, Model)
        ]
    return found


def _is_no_lens(power: say.Power) -> bool:
    size = power.size_d
    return size is None or size > LARGEST_LENS_D or round(size % 1, 3) not in _EIGHTHS


def _is_no_power(reading: tuple[Meaning, ...]) -> bool:
    """Whether a bare number stands for a power that it cannot be: "ninety was at sixty seven" is no reading."""
    said = (each.entry if isinstance(each, say.Correction) else each for each in reading)
    lenses = (each for each in said if isinstance(each, say.Reading | say.Lenses | say.LoosePower))
    found = [power for meaning in lenses for power in powers(meaning)]
    return any(power.sign is None and (power.size_d or 0.0) > LARGEST_LENS_D for power in found)


def _numbers(model: Model) -> int:
    """How many numbers a meaning names."""
    if isinstance(model, say.Power):
        return 1
    count = 0
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        count += isinstance(value, int | float) and not isinstance(value, bool) and value != field.default
    return count + sum(_numbers(part) for part in _parts(model))
