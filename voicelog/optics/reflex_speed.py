"""How fast the reflex moves for an eye that is not neutral, and what an observer makes out of it.

speed of the reflex / speed of the streak = (W - S) / e, with W = 1/distance, S the inverse of the apparent distance of
the source and e the distance from neutral along the meridian swept, all in dioptres; positive is "with".
The derivation stands in `practice/reflex.py`, whose tests trace rays to the same numbers.
"""

from typing import Final

FASTEST_SEEN: Final = 8.0
"""From this many times the streak's speed on, the pupil seems to light up at once: neutral.

At 67 cm that is an eighth of a dioptre either way: in quarter steps each meridian has one neutral lens, and the next
one turns the motion over "distinctly" (J. I. Pascal, Neutralization in dynamic retinoscopy, Br J Ophthalmol, page 589:
so it goes in static retinoscopy). Nearer the zone is wider, farther off narrower."""
# Our own choice, no source: what an attentive observer makes out.
SLOWEST_SEEN: Final = 0.1
"""Below this share of the streak's speed the reflex seems to stand still."""
FAST_SEEN: Final = 2.0
"""From this many times the streak's speed on, the reflex is called fast."""
SLOW_SEEN: Final = 0.5
"""Up to this share of the streak's speed it is called slow."""
PLANE_SOURCE_D: Final = 0.5
"""S with a plane mirror: our own choice, a plausible instrument."""


def source_vergence_d(vergence_d: float, *, concave_mirror: bool = False) -> float:
    """S, inverse of the apparent distance of the source from the lens plane, dioptres.

    A concave mirror's convergent beam has its focus half-way to the eye (our own choice).
    """
    return 2.0 * vergence_d if concave_mirror else PLANE_SOURCE_D


def error_at_speed_d(speed: float, vergence_d: float, *, concave_mirror: bool = False) -> float:
    """How far from neutral (dioptres, positive) the reflex moves at `speed` times the streak's, retinoscope at 1/W."""
    return abs(vergence_d - source_vergence_d(vergence_d, concave_mirror=concave_mirror)) / speed
