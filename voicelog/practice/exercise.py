"""What is set in practice."""

from dataclasses import dataclass
from typing import Final, Literal

from voicelog.optics import WorkingDistance
from voicelog.practice.eye import EyeModel
from voicelog.practice.off_axis import off_axis_change
from voicelog.practice.reflex import Retinoscope

Technique = Literal["spheres", "sphere-cylinder", "cylinders"]
TECHNIQUES: Final[tuple[Technique, ...]] = ("spheres", "sphere-cylinder", "cylinders")
USUAL_DISTANCE_CM: Final = 67.0
SEEDS: Final = 1_000_000
"""How many eyes there are to draw from."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """What is set: the eye, where the learner sits, and what stands before the eye throughout.

    `lens_in`: the working-distance lens (the nearest of a usual set) is in the frame from the start; the learner has to
    say so. `off_axis_deg`: how far to the side of the line of sight the learner sits; PracticeError beyond 25.
    Nothing of this follows what is said: what the log is told may be wrong. `kind`: of a graded exercise (`kinds.py`),
    empty for any other.
    """

    model: EyeModel
    seed: int
    eye: Literal["right", "left"] = "right"
    distance_cm: float = USUAL_DISTANCE_CM
    lens_in: bool = False
    concave_mirror: bool = False
    technique: Technique = "spheres"
    off_axis_deg: float = 0.0
    kind: str = ""

    def __post_init__(self) -> None:
        off_axis_change(self.off_axis_deg)

    @property
    def scope(self) -> Retinoscope:
        """The retinoscope where the learner holds it."""
        return Retinoscope(self.distance_cm / 100.0, self.concave_mirror)

    @property
    def working_lens_d(self) -> float:
        """Power of the working lens in the frame, dioptres; 0 without one."""
        return WorkingDistance(self.distance_cm / 100.0).nominal_allowance_d if self.lens_in else 0.0
