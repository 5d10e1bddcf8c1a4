"""Refractions from elsewhere or found by asking: spectacles worn, subjective result, near addition."""

from typing import ClassVar, Final, Literal, Self

from voicelog.exam.entries.base import BaseFinding, Quantity, ask, refuse
from voicelog.exam.entries.context import Context, InPlace
from voicelog.exam.entries.lenses import CylinderLens, TrialLenses, exact_d
from voicelog.exam.entries.limits import check_power
from voicelog.exam.entries.placing import placed
from voicelog.optics import SpheroCylinder, from_written_power_d, written_power
from voicelog.phrases import meanings as say

LEAST_ADDITION_D: Final = 0.75  # common practice, no source; less is as likely a lens put on top
GREATEST_ADDITION_D: Final = 4.0  # common practice, no source; what low vision needs beyond it is confirmed
_STEP_D = 0.125


def lens_quantities(lens: SpheroCylinder) -> tuple[Quantity, ...]:
    """Sphere, cylinder, axis (not without a cylinder) and spherical equivalent."""
    axis = () if lens.axis_deg is None else (Quantity("axis", lens.axis_deg, "deg"),)
    return (
        Quantity("sphere", lens.sphere_d, "[diop]"),
        Quantity("cylinder", lens.cylinder_d, "[diop]"),
        *axis,
        Quantity("spherical-equivalent", lens.spherical_equivalent_d, "[diop]"),
    )


class PrescriptionEntry(BaseFinding):
    """A whole refraction of one eye: a sphere always, a cylinder where there is one."""

    eye: say.OneEye
    sphere_d: float
    cylinder: CylinderLens | None = None

    @property
    def lens(self) -> SpheroCylinder:
        """The refraction."""
        return TrialLenses(sphere_d=self.sphere_d, cylinder=self.cylinder).lens

    def value_words(self) -> str:
        """ "-1.00 -0.50 x 090"."""
        return str(self.lens)

    def quantities(self) -> tuple[Quantity, ...]:
        """Its parts and the spherical equivalent."""
        return lens_quantities(self.lens)

    @property
    def _parts(self) -> InPlace:
        return InPlace(TrialLenses(sphere_d=self.sphere_d, cylinder=self.cylinder))


def _whole(lens: say.Lens, before: InPlace, context: Context, *, steps: bool) -> dict[str, object]:
    after = placed(lens, before, context.meaning, steps=steps).lenses
    if after.sphere_d is None:
        raise ask("sphere", "and the sphere?", context.meaning)
    return {"sphere_d": after.sphere_d, "cylinder": after.cylinder}


class SubjectiveEntry(PrescriptionEntry):
    """The subjective result of one eye."""

    said: ClassVar = say.Refined
    title: ClassVar = "subjective"
    code: ClassVar = "subjective-refraction"

    kind: Literal["subjective"] = "subjective"

    @classmethod
    def from_meaning(cls, meaning: say.Refined, context: Context) -> Self:
        """A part said alone leaves the others as they are. Raises NeedsAnswer without any sphere."""
        eye = context.eye(meaning.eye)
        before = context.now.finding(cls, eye)
        parts = before._parts if before is not None else InPlace()
        return cls.model_validate({"eye": eye, **_whole(meaning.lens, parts, context, steps=True)})

    def corrected(self, meaning: say.Refined, context: Context) -> Self:
        """Parts that are named change."""
        eye = self.eye if meaning.eye is None else context.eye(meaning.eye)
        return self.with_changes(eye=eye, **_whole(meaning.lens, self._parts, context, steps=True))


class MeasuredEntry(PrescriptionEntry):
    """Found anew each time it is said."""

    in_steps: ClassVar[bool]
    """Whether its powers must be in the steps of a trial set."""

    @classmethod
    def from_meaning(cls, meaning: say.Autorefraction | say.OverRefraction, context: Context) -> Self:
        """Raises NeedsAnswer without a sphere."""
        eye = context.eye(meaning.eye)
        return cls.model_validate(
            {"eye": eye, **_whole(meaning.lens, InPlace(), context, steps=cls.in_steps)}
        )

    def corrected(self, meaning: say.Autorefraction | say.OverRefraction, context: Context) -> Self:
        """Parts that are named change."""
        eye = self.eye if meaning.eye is None else context.eye(meaning.eye)
        return self.with_changes(eye=eye, **_whole(meaning.lens, self._parts, context, steps=self.in_steps))


class AutorefractionEntry(MeasuredEntry):
    """What an instrument measured for one eye."""

    said: ClassVar = say.Autorefraction
    title: ClassVar = "autorefraction"
    code: ClassVar = "autorefraction"
    in_steps: ClassVar = False

    kind: Literal["autorefraction"] = "autorefraction"


class OverRefractionEntry(MeasuredEntry):
    """What was found over the lenses worn, for one eye; it is shown by itself and never added to them."""

    said: ClassVar = say.OverRefraction
    title: ClassVar = "over-refraction"
    code: ClassVar = "over-refraction"
    in_steps: ClassVar = True

    kind: Literal["over_refraction"] = "over_refraction"


class SpectaclesEntry(PrescriptionEntry):
    """What the spectacles worn measure for one eye."""

    said: ClassVar = say.Spectacles
    title: ClassVar = "spectacles worn"
    code: ClassVar = "previous-spectacles"

    kind: Literal["spectacles"] = "spectacles"
    addition_d: float | None = None

    def value_words(self) -> str:
        """ "-1.00 -0.50 x 090, addition +2.00"."""
        more = "" if self.addition_d is None else f", addition {written_power(self.addition_d)}"
        return f"{self.lens}{more}"

    def quantities(self) -> tuple[Quantity, ...]:
        """The refraction and the addition."""
        addition = () if self.addition_d is None else (Quantity("addition", self.addition_d, "[diop]"),)
        return (*super().quantities(), *addition)

    @classmethod
    def from_meaning(cls, meaning: say.Spectacles, context: Context) -> Self:
        """A part said alone leaves the others as they are. Raises NeedsAnswer without any sphere."""
        eye = context.eye(meaning.eye)
        before = context.now.finding(cls, eye)
        return cls._made(meaning, context, eye, before)

    def corrected(self, meaning: say.Spectacles, context: Context) -> Self:
        """Parts that are named change."""
        eye = self.eye if meaning.eye is None else context.eye(meaning.eye)
        return self._made(meaning, context, eye, self)

    @classmethod
    def _made(cls, meaning: say.Spectacles, context: Context, eye: say.OneEye, before: Self | None) -> Self:
        parts = _whole(meaning.lens, before._parts if before else InPlace(), context, steps=False)
        for power in (meaning.lens.sphere, meaning.lens.cylinder.power if meaning.lens.cylinder else None):
            # A lensometer may show any hundredth, but an odd one is likelier misheard.
            if power is not None and from_written_power_d(power.dioptres or 0.0) % _STEP_D:
                context.confirm("odd_power", f"{power.dioptres:+.2f} D is no quarter or eighth: is it right?")
        addition_d = before.addition_d if before else None
        if meaning.addition is not None:
            addition_d = checked_addition_d(meaning.addition, context)
        return cls.model_validate({"eye": eye, **parts, "addition_d": addition_d})


class AdditionEntry(BaseFinding):
    """The near addition of one eye or, as usual, of both."""

    said: ClassVar = say.Addition
    title: ClassVar = "near addition"
    code: ClassVar = "addition"

    kind: Literal["addition"] = "addition"
    eye: say.Eyes
    power_d: float

    def value_words(self) -> str:
        """ "+2.00"."""
        return written_power(self.power_d)

    def quantities(self) -> tuple[Quantity, ...]:
        """The addition."""
        return (Quantity("addition", self.power_d, "[diop]"),)

    @classmethod
    def from_meaning(cls, meaning: say.Addition, context: Context) -> "AdditionEntry":
        """Of both eyes unless one is named. Raises NeedsAnswer."""
        return cls(eye=meaning.eye or "both", power_d=checked_addition_d(meaning.power, context))

    def corrected(self, meaning: say.Addition, context: Context) -> "AdditionEntry":
        """Another addition; the eye stays unless it is named."""
        return AdditionEntry(eye=meaning.eye or self.eye, power_d=checked_addition_d(meaning.power, context))


def checked_addition_d(power: say.Power, context: Context) -> float:
    """A near addition, dioptres. Raises NeedsAnswer for one that is not plus, and for an unusual one."""
    value_d = exact_d(power)
    if value_d <= 0:
        raise refuse(f"a near addition is plus, not {written_power(value_d)}: say it again", context.meaning)
    check_power(value_d, context.meaning)
    if not LEAST_ADDITION_D <= value_d <= GREATEST_ADDITION_D:
        context.confirm(
            "unusual_addition", f"an addition of {written_power(value_d)} is unusual: is it right?"
        )
    return value_d
