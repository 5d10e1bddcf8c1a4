"""The working distance and its lens as they stand for a reading, and what they take off.

Net power = power of the lenses along the meridian - 1 / distance, the working-distance lens counted among the lenses
when it is in place (Duane's Clinical Ophthalmology ch. 37: 66 cm is 1.50 D; domain facts 1.1).
"""

from typing import Final

from voicelog.optics import WorkingDistance, written_cm, written_power
from voicelog.phrases.meanings import Model

LENS_FITS_D: Final = 0.13
"""A working-distance lens this near to 1 / distance is its lens: 1.50 D is used for 66, 66.7 and 67 cm, 1.75 for 60."""


class Allowance(Model):
    """How far away the retinoscope was, and whether the lens for that distance was in place.

    distance_cm None: not said yet. lens_d None: the lens was said to be in without its power, and is taken to be the
    one of the distance.
    """

    distance_cm: float | None = None
    lens_in: bool = False
    lens_d: float | None = None

    @property
    def taken_off_d(self) -> float | None:
        """What is to be taken off the power of the lenses, dioptres; None while the distance is not known.

        With a lens that is not the one of the distance it is what the two leave over.
        """
        if self.distance_cm is None:
            return 0.0 if self.lens_in and self.lens_d is None else None
        exact_d = WorkingDistance(self.distance_cm / 100).allowance_d
        if not self.lens_in:
            return exact_d
        if self.lens_d is None or abs(exact_d - self.lens_d) <= LENS_FITS_D:
            return 0.0
        return exact_d - self.lens_d

    @property
    def distance_sd_d(self) -> float:
        """Standard deviation of the allowance that an arm's unsteadiness brings, dioptres; 0 where none is known."""
        return 0.0 if self.distance_cm is None else WorkingDistance(self.distance_cm / 100).allowance_sd_d

    def words(self) -> str:
        """ "67 cm", "67 cm, working distance lens +1.50 in", "distance not said"."""
        parts = [] if self.distance_cm is None else [written_cm(self.distance_cm)]
        if self.lens_in:
            power = f"{written_power(self.lens_d)} " if self.lens_d is not None else ""
            parts.append(f"working distance lens {power}in")
        return ", ".join(parts) or "distance not said"
