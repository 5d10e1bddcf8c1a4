"""Steps of the subjective refraction, as they were answered. None of them is a lens before the eye, nor a result."""

from typing import ClassVar, Final, Literal, Self

from voicelog.exam.acuity_lines import logmar_of, written_acuity
from voicelog.exam.entries.acuity import checked_acuity
from voicelog.exam.entries.base import BaseFinding, Quantity, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.lenses import exact_d
from voicelog.exam.entries.limits import check_cylinder, check_power
from voicelog.optics import written_axis, written_power
from voicelog.phrases import meanings as say

Step = Literal["fogged", "cross_cylinder", "duochrome", "balance", "end_point"]
Look = Literal[
    "red", "green", "equal", "confirmed", "right_clearer", "left_clearer", "reached", "maximum_plus"
]
_NAMES: Final[dict[Step, tuple[str, str]]] = {
    "fogged": ("fogging", "fogged"),
    "cross_cylinder": ("cross-cylinder", "cross cylinder"),
    "duochrome": ("duochrome", "duochrome"),
    "balance": ("binocular-balance", "binocular balance"),
    "end_point": ("end-point", "end point"),
}
_LOOKS: Final[dict[Look, str]] = {"red": "red clearer", "green": "green clearer"}


class StepEntry(BaseFinding):
    """One step for an eye, or for both; said again it takes the place of the one before."""

    said: ClassVar = say.SubjectiveStep
    title: ClassVar = "subjective step"
    code: ClassVar = "subjective-step"

    kind: Literal["subjective_step"] = "subjective_step"
    step: Step
    eye: say.Eyes
    power_d: float | None = None
    axis_deg: int | None = None
    value: say.AcuityValue | None = None
    look: Look | None = None

    @property
    def slot(self) -> str:
        """Each step of an eye by itself."""
        return f"{self.step} {self.eye}"

    @property
    def label(self) -> str:
        """ "duochrome"."""
        return _NAMES[self.step][1]

    @property
    def export_code(self) -> str:
        """ "cross-cylinder"."""
        return _NAMES[self.step][0]

    def value_words(self) -> str:
        """ "-0.75 axis 085", "red clearer", "to 6/12, +2.00"."""
        parts = []
        if self.value is not None:
            parts.append(f"to {written_acuity(self.value)}" if self.step == "fogged" else self._acuity)
        if self.power_d is not None or self.axis_deg is not None:
            power = "" if self.power_d is None else written_power(self.power_d)
            axis = "" if self.axis_deg is None else f"axis {written_axis(self.axis_deg)}"
            parts.append(f"{power} {axis}".strip())
        if self.look is not None:
            parts.append(_LOOKS.get(self.look, self.look.replace("_", " ")))
        return ", ".join(parts)

    @property
    def _acuity(self) -> str:
        return "" if self.value is None else written_acuity(self.value)

    def quantities(self) -> tuple[Quantity, ...]:
        """What is a number of it."""
        logmar = None if self.value is None else logmar_of(self.value)
        power = () if self.power_d is None else (Quantity("power", self.power_d, "[diop]"),)
        axis = () if self.axis_deg is None else (Quantity("axis", self.axis_deg, "deg"),)
        return (
            *power,
            *axis,
            *(() if logmar is None else (Quantity("logmar", round(logmar, 3) + 0.0, "1"),)),
        )

    @classmethod
    def from_meaning(cls, meaning: say.SubjectiveStep, context: Context) -> Self:
        """Of a cross cylinder, a part said alone leaves the other as it is. Raises NeedsAnswer."""
        eye: say.Eyes = _eye(meaning, context)
        before = context.now.slot(f"{meaning.step} {eye}") if meaning.step == "cross_cylinder" else None
        return cls._made(meaning, eye, before if isinstance(before, cls) else None, context)

    def corrected(self, meaning: say.SubjectiveStep, context: Context) -> Self:
        """Another value; what is not named stays."""
        eye = self.eye if meaning.eye is None else _eye(meaning, context)
        return self._made(meaning, eye, self, context)

    @classmethod
    def _made(cls, meaning: say.SubjectiveStep, eye: say.Eyes, before: Self | None, context: Context) -> Self:
        power_d = None if meaning.power is None else exact_d(meaning.power)
        if power_d is not None:
            check = check_cylinder if meaning.step == "cross_cylinder" else check_power
            check(power_d, meaning)
            if meaning.step == "fogged" and power_d < 0:
                context.confirm("minus_fog", f"a fog of {written_power(power_d)} is minus: is it right?")
        axis_deg = meaning.axis_deg
        if axis_deg is not None and not 1 <= axis_deg <= 180:
            raise refuse(f"axis {axis_deg} is not within 1 to 180 degrees: say it again", context.meaning)
        value = None if meaning.value is None else checked_acuity(meaning.value, context)
        made = {"power_d": power_d, "axis_deg": axis_deg, "value": value, "look": meaning.look}
        kept = {} if before is None else {name: getattr(before, name) for name in made}
        kept.pop("look", None)  # what was confirmed or answered was so of the value before
        return cls.model_validate(
            {
                "step": meaning.step,
                "eye": eye,
                **{name: kept.get(name) if now is None else now for name, now in made.items()},
            }
        )


def _eye(meaning: say.SubjectiveStep, context: Context) -> say.Eyes:
    if meaning.eye == "both" or (meaning.step == "balance" and meaning.eye is None):
        return "both"
    return context.eye(meaning.eye)
