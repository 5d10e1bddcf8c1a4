"""What no trial case holds and no arm reaches: limits that more than one kind of entry shares."""

from typing import Final

from voicelog.exam.entries.base import refuse
from voicelog.optics import from_written_power_d, written_power
from voicelog.phrases.meanings import Meaning

# Usual trial cases hold spheres to 20 D and cylinders to 6 D (trial-set descriptions; from memory); two lenses
# together reach these.
LARGEST_POWER_D: Final = 30.0
LARGEST_CYLINDER_D: Final = 12.0
_STEP_D = 0.125


def check_power(power_d: float, meaning: Meaning, *, steps: bool = True) -> float:
    """A power that lenses can have, dioptres, as it was. Raises NeedsAnswer.

    Without `steps` any hundredth will do, as on a lensometer.
    """
    if abs(power_d) > LARGEST_POWER_D:
        raise refuse(f"{power_d:+.2f} D is beyond {LARGEST_POWER_D:g} D: say the power again", meaning)
    if steps and from_written_power_d(power_d) % _STEP_D:
        raise refuse(f"{power_d:+.2f} D is no step of a lens set: say the power again", meaning)
    return power_d


def check_cylinder(power_d: float, meaning: Meaning, *, steps: bool = True) -> float:
    """A cylinder that lenses can have, dioptres, as it was. Raises NeedsAnswer."""
    check_power(power_d, meaning, steps=steps)
    if abs(power_d) > LARGEST_CYLINDER_D:
        raise refuse(
            f"a cylinder of {written_power(power_d)} D is beyond {LARGEST_CYLINDER_D:g} D: say it again",
            meaning,
        )
    return power_d


def check_within(
    value: float, least: float, greatest: float, unit: str, what: str, meaning: Meaning
) -> float:
    """A value within limits, as it was. Raises NeedsAnswer, saying them."""
    if not least <= value <= greatest:
        raise refuse(
            f"{what} of {value:g} {unit} is not within {least:g} to {greatest:g} {unit}: say it again",
            meaning,
        )
    return value
