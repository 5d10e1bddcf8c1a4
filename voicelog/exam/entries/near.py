"""Near and dynamic retinoscopy of one eye, kept apart from the static readings."""

from typing import ClassVar, Final, Literal

from voicelog.exam.entries.base import BaseFinding, Quantity
from voicelog.exam.entries.context import Context, InPlace
from voicelog.exam.entries.lenses import Axis, TrialLenses, exact_d
from voicelog.exam.entries.limits import check_within
from voicelog.exam.entries.placing import placed, whole_lenses
from voicelog.optics import Response, estimate_lag_d, nott_lag_d
from voicelog.phrases import meanings as say

# Targets are held at reading distance, the retinoscope at most somewhat behind them (common practice, no source).
LEAST_CM, GREATEST_TARGET_CM, GREATEST_NEUTRAL_CM = 10.0, 100.0, 200.0
GREATEST_LAG_D: Final = 3.0  # more than the demand of a target at 33 cm; our choice, no source


class DarkEntry(BaseFinding):
    """Neutral in near retinoscopy in the dark: lenses of the whole eye, or along one meridian (degrees)."""

    said: ClassVar = say.Dark
    title: ClassVar = "near retinoscopy in the dark"
    code: ClassVar = "near-in-the-dark-reading"

    kind: Literal["dark"] = "dark"
    eye: say.OneEye
    age: say.Age
    meridian_deg: Axis | None = None
    lenses: TrialLenses

    @property
    def slot(self) -> None:
        """Each reading counts; `exam/near.py` says what they make."""
        return

    def value_words(self) -> str:
        """ "adult, sphere +2.00 along 090"."""
        along = "" if self.meridian_deg is None else f" along {self.meridian_deg:03d}"
        return f"{self.age}, {self.lenses.words()}{along}"

    def quantities(self) -> tuple[Quantity, ...]:
        """The lenses, and the meridian."""
        lens = self.lenses.lens
        found = [Quantity("sphere", lens.sphere_d, "[diop]"), Quantity("cylinder", lens.cylinder_d, "[diop]")]
        if lens.axis_deg is not None:
            found.append(Quantity("axis", lens.axis_deg, "deg"))
        if self.meridian_deg is not None:
            found.append(Quantity("meridian", self.meridian_deg, "deg"))
        return tuple(found)

    @classmethod
    def from_meaning(cls, meaning: say.Dark, context: Context) -> "DarkEntry":
        """Of the eye in hand. Raises NeedsAnswer."""
        eye = context.eye(None)
        place = None if meaning.where is None else context.meridian_deg(meaning.where, eye)
        lenses = whole_lenses(meaning.lens, context.meaning)
        return cls(eye=eye, age=meaning.age, meridian_deg=place, lenses=lenses)

    def corrected(self, meaning: say.Dark, context: Context) -> "DarkEntry":
        """Other lenses, age or place; what is not named stays."""
        place = self.meridian_deg if meaning.where is None else context.meridian_deg(meaning.where, self.eye)
        lenses = placed(meaning.lens, InPlace(self.lenses), context.meaning).lenses
        return DarkEntry(eye=self.eye, age=meaning.age, meridian_deg=place, lenses=lenses)


class EstimateEntry(BaseFinding):
    """The lens that neutralises in the monocular estimate of accommodation; its lag is that power."""

    said: ClassVar = say.Estimate
    title: ClassVar = "accommodation (monocular estimate)"
    code: ClassVar = "monocular-estimate"

    kind: Literal["estimate"] = "estimate"
    eye: say.OneEye
    power_d: float

    @property
    def slot(self) -> None:
        """Each measurement counts."""
        return

    @property
    def lag_d(self) -> float:
        """Demand less response, dioptres; negative is a lead."""
        return estimate_lag_d(self.power_d)

    def value_words(self) -> str:
        """ "lag 0.50 D"."""
        return _lag_words(self.lag_d)

    def quantities(self) -> tuple[Quantity, ...]:
        """The lag."""
        return (Quantity("lag", round(self.lag_d, 3), "[diop]"),)

    @classmethod
    def from_meaning(cls, meaning: say.Estimate, context: Context) -> "EstimateEntry":
        """Of the eye in hand unless one is named. Raises NeedsAnswer."""
        entry = cls(eye=context.eye(meaning.eye), power_d=exact_d(meaning.power))
        _usual_lag(entry.lag_d, context)
        return entry

    def corrected(self, meaning: say.Estimate, context: Context) -> "EstimateEntry":
        """Another lens; the eye stays unless it is named."""
        return EstimateEntry.from_meaning(
            meaning.model_copy(update={"eye": meaning.eye or self.eye}), context
        )


class NottEntry(BaseFinding):
    """Dynamic retinoscopy after Nott: distances of target and neutral, in centimetres."""

    said: ClassVar = say.Dynamic
    title: ClassVar = "accommodation (Nott)"
    code: ClassVar = "nott"

    kind: Literal["nott"] = "nott"
    eye: say.OneEye
    target_cm: float
    neutral_cm: float

    @property
    def slot(self) -> None:
        """Each measurement counts."""
        return

    @property
    def lag_d(self) -> float:
        """Demand less response, dioptres; negative is a lead."""
        return nott_lag_d(self.target_cm / 100, self.neutral_cm / 100)

    @property
    def response(self) -> Response:
        """The accommodation in use."""
        return Response(100 / self.target_cm, self.lag_d)

    def value_words(self) -> str:
        """ "lag 0.50 D (target 40 cm, neutral 50 cm)"."""
        return f"{_lag_words(self.lag_d)} (target {self.target_cm:g} cm, neutral {self.neutral_cm:g} cm)"

    def quantities(self) -> tuple[Quantity, ...]:
        """The lag and both distances."""
        return (
            Quantity("lag", round(self.lag_d, 3), "[diop]"),
            Quantity("target", self.target_cm, "cm"),
            Quantity("neutral", self.neutral_cm, "cm"),
        )

    @classmethod
    def from_meaning(cls, meaning: say.Dynamic, context: Context) -> "NottEntry":
        """Of the eye in hand unless one is named. Raises NeedsAnswer."""
        eye = context.eye(meaning.eye)
        for what, value, greatest in (
            ("a target distance", meaning.target_cm, GREATEST_TARGET_CM),
            ("a neutral distance", meaning.neutral_cm, GREATEST_NEUTRAL_CM),
        ):
            check_within(value, LEAST_CM, greatest, "cm", what, context.meaning)
        entry = cls(eye=eye, target_cm=meaning.target_cm, neutral_cm=meaning.neutral_cm)
        _usual_lag(entry.lag_d, context)
        return entry

    def corrected(self, meaning: say.Dynamic, context: Context) -> "NottEntry":
        """Other distances; the eye stays unless it is named."""
        return NottEntry.from_meaning(meaning.model_copy(update={"eye": meaning.eye or self.eye}), context)


def _usual_lag(lag_d: float, context: Context) -> None:
    if abs(lag_d) > GREATEST_LAG_D:
        name = "lead" if lag_d < 0 else "lag"
        context.confirm("unusual_lag", f"a {name} of {abs(lag_d):.2f} D is unusual: is it right?")


def _lag_words(lag_d: float) -> str:
    return f"{'lead' if lag_d < 0 else 'lag'} {abs(lag_d):.2f} D"
