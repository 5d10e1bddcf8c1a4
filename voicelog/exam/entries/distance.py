"""The working distance, and the lens that stands in for it."""

from typing import ClassVar, Literal

from voicelog.exam.entries.allowance import LENS_FITS_D, Allowance
from voicelog.exam.entries.base import BaseEntry, Quantity, eye_words, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.lenses import exact_d
from voicelog.optics import WorkingDistance, written_cm, written_power
from voicelog.phrases import meanings as say

# Radical retinoscopy goes down to 10 cm (domain facts 1.1); nobody holds a retinoscope beyond arm's length. Nearer than
# 30 cm and further than 80 cm are rare enough to be worth a yes: they are also what inches, and powers said as
# distances, look like (common practice, no source).
LEAST_CM, GREATEST_CM = 10.0, 100.0
LEAST_USUAL_CM, GREATEST_USUAL_CM = 30.0, 80.0
_INCH_CM = 2.54
_NEAR_A_LENS = 0.1  # of a quarter dioptre


def is_usual(distance_cm: float) -> bool:
    """Whether a distance is one that is named in passing: full tens, and those with a lens of the set (66, 67, 57)."""
    quarters = 4 * WorkingDistance(distance_cm / 100).allowance_d
    return distance_cm % 10 == 0 or abs(quarters - round(quarters)) < _NEAR_A_LENS


class DistanceEntry(BaseEntry):
    """The distance from eye to retinoscope from here on, centimetres. With an `eye`: whenever that eye is in hand."""

    said: ClassVar = say.WorkingDistance
    title: ClassVar = "working distance"
    code: ClassVar = "working-distance"
    corrects_eye: ClassVar = False

    kind: Literal["distance"] = "distance"
    distance_cm: float
    eye: say.OneEye | None = None

    def words(self) -> str:
        """ "working distance 67 cm", "left eye: working distance 50 cm"."""
        return f"{eye_words(self.eye)}working distance {written_cm(self.distance_cm)}"

    def quantities(self) -> tuple[Quantity, ...]:
        """The distance."""
        return (Quantity("distance", self.distance_cm, "cm"),)

    @classmethod
    def from_meaning(cls, meaning: say.WorkingDistance, context: Context) -> "DistanceEntry":
        """The distance, when an arm reaches it. Raises NeedsAnswer."""
        distance_cm = meaning.distance_cm
        if not LEAST_CM <= distance_cm <= GREATEST_CM:
            hint = f" Was {distance_cm / 100:g} D meant?" if 100 < distance_cm <= 1000 else ""
            raise refuse(
                f"a working distance of {distance_cm:g} cm is not within {LEAST_CM:g} to {GREATEST_CM:g} cm:"
                f" say it again in centimetres.{hint}".replace(".. ", ". "),
                context.meaning,
            )
        if not LEAST_USUAL_CM <= distance_cm <= GREATEST_USUAL_CM:
            inches = (
                f" ({distance_cm:g} inches are {distance_cm * _INCH_CM:.0f} cm)" if distance_cm < 40 else ""
            )
            context.confirm(
                "unusual_distance",
                f"a working distance of {written_cm(distance_cm)} is unusual: is it right?{inches}",
            )
        _fits_lens(distance_cm, context)
        return cls(distance_cm=distance_cm)

    def corrected(self, meaning: say.WorkingDistance, context: Context) -> "DistanceEntry":
        """Another distance was meant."""
        return DistanceEntry.from_meaning(meaning, context).with_changes(eye=self.eye)


class WorkingLensEntry(BaseEntry):
    """The working-distance lens is in or out from here on; `power_d` None: its power was not said.

    With an `eye` it is so whenever that eye is in hand.
    """

    said: ClassVar = say.WorkingLens
    title: ClassVar = "working distance lens"
    code: ClassVar = "working-distance-lens"
    corrects_eye: ClassVar = False

    kind: Literal["working_lens"] = "working_lens"
    position: Literal["in", "out"]
    power_d: float | None = None
    eye: say.OneEye | None = None

    def words(self) -> str:
        """ "working distance lens +1.50 in"."""
        power = f"{written_power(self.power_d)} " if self.power_d is not None else ""
        return f"{eye_words(self.eye)}working distance lens {power}{self.position}"

    def quantities(self) -> tuple[Quantity, ...]:
        """Its power."""
        return () if self.power_d is None else (Quantity("power", self.power_d, "[diop]"),)

    def allowance(self, before: Allowance) -> Allowance:
        """How distance and lens stand after it. A lens that is said before any distance says the distance too."""
        distance_cm = before.distance_cm
        if distance_cm is None and self.power_d:
            distance_cm = round(100 / self.power_d, 3)
        if self.position == "out":
            return Allowance(distance_cm=distance_cm)
        return Allowance(distance_cm=distance_cm, lens_in=True, lens_d=self.power_d)

    @classmethod
    def from_meaning(cls, meaning: say.WorkingLens, context: Context) -> "WorkingLensEntry":
        """The lens, when it is one for an arm's length and for the distance that was said. Raises NeedsAnswer."""
        power = meaning.power
        if power is not None and power.sign is None and meaning.throughout:
            power = power.with_sign(1)
        power_d = None if power is None else exact_d(power)
        if power_d is not None:
            if not 100 / GREATEST_CM <= power_d <= 100 / LEAST_CM:
                raise refuse(
                    f"{written_power(power_d)} is no working distance lens: say it again", context.meaning
                )
            _fits_distance(power_d, meaning.position, context)
        named = None if meaning.throughout or meaning.eye in (None, "both") else context.eye(meaning.eye)
        return cls(position=meaning.position, power_d=power_d, eye=named)

    def corrected(self, meaning: say.WorkingLens, context: Context) -> "WorkingLensEntry":
        """Another lens was meant; a power left unsaid stays."""
        new = WorkingLensEntry.from_meaning(meaning, context)
        power_d = self.power_d if new.power_d is None else new.power_d
        return new.with_changes(power_d=power_d, eye=new.eye or self.eye)


def counts_for(entry: DistanceEntry | WorkingLensEntry, eye: say.OneEye) -> bool:
    """Whether a distance or lens is one that an eye is read with: said of no eye, or of that one."""
    return entry.eye in (eye, None)


def _fits_lens(distance_cm: float, context: Context) -> None:
    """The same seen from the distance: the lens in place must be the one for it."""
    allowance = context.now.allowance
    if not allowance.lens_in or allowance.lens_d is None:
        return
    needed_d = WorkingDistance(distance_cm / 100).allowance_d
    if abs(needed_d - allowance.lens_d) > LENS_FITS_D:
        context.confirm(
            "lens_for_another_distance",
            f"the working distance lens in place is {written_power(allowance.lens_d)}, and {written_cm(distance_cm)}"
            f" wants {needed_d:.2f} D: are both right?",
        )


def _fits_distance(power_d: float, position: str, context: Context) -> None:
    """A lens for another distance than was said is asked about: one of the two is wrong, or the sphere will be."""
    distance_cm = context.now.allowance.distance_cm
    if position == "out" or distance_cm is None:
        return
    needed_d = WorkingDistance(distance_cm / 100).allowance_d
    if abs(needed_d - power_d) > LENS_FITS_D:
        context.confirm(
            "lens_for_another_distance",
            f"{written_power(power_d)} is the lens for {100 / power_d:.0f} cm, and {written_cm(distance_cm)} was said"
            f" ({needed_d:.2f} D): are both right?",
        )
