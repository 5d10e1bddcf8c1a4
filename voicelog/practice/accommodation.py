"""A child who looks at the light instead of far away, and back: how far it focuses, and how the pupil goes along."""

from dataclasses import dataclass
from typing import Final

LAG_D: Final = 0.37
"""How far a near response falls short: between the means of 0.33 D (Tassinari, Optom Vis Sci 2002;79:708-14) and
0.415 D (del Pilar Cacho et al., as discussed in Optom Vis Sci 2000;77:119), both for targets at 40 cm."""
LARGEST_D: Final = 10.0
"""More than a schoolchild is asked for here; its amplitude is above that (Hofstetter's least, from memory)."""
MIOSIS_MM_PER_D: Final = 0.3
LARGEST_MIOSIS_MM: Final = 1.2
"""How much smaller the pupil gets with it; both from memory."""
LEVELS: Final = 9


@dataclass(frozen=True, slots=True)
class NearLook:
    """A child's looking, in seconds: relaxed, then at the light for the rest of the period, again and again.

    `response` is the time constant of going there and coming back (a few tenths of a second, from memory); the two
    others are our own choice.
    """

    period: float = 8.0
    relaxed: float = 5.0
    response: float = 0.35


def near_response_d(error_d: float) -> float:
    """Accommodation of an eye that looks at the retinoscope, `error_d` dioptres from neutral when it is at rest.

    An eye that sees the retinoscope sharp without it (neutral, or more myopic) has nothing to do.
    """
    return min(LARGEST_D, max(0.0, error_d - LAG_D))


def near_pupil_mm(pupil_mm: float, accommodation_d: float) -> float:
    """The pupil's diameter with so much accommodation."""
    return pupil_mm - min(LARGEST_MIOSIS_MM, MIOSIS_MM_PER_D * accommodation_d)
