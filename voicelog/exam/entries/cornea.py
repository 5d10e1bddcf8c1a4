"""Keratometry: the curvature of the cornea along its meridians. Its dioptres are the cornea's, never a lens."""

from typing import ClassVar, Final, Literal, Self

from voicelog.exam.entries.base import BaseFinding, Quantity, ask, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.limits import check_within
from voicelog.optics import axis_difference_deg, written_axis
from voicelog.phrases import meanings as say

KERATOMETRIC_D_MM: Final = 337.5
"""Dioptres times millimetres: K = 1000 (1.3375 - 1)/r, an index chosen so that a radius of 7.5 mm is 45.0 D (American
Journal of Ophthalmology 2002, "Comments" on corneal power after surgery)."""
# What keratometers measure with their extending lenses: 30 to 62 D (from memory).
LEAST_D, GREATEST_D = 30.0, 62.0
MOST_OFF_DEG: Final = 15.0
"""The principal meridians of a cornea are at right angles but where it is irregular: our own limit, no source."""
LEAST_MM, GREATEST_MM = KERATOMETRIC_D_MM / GREATEST_D, KERATOMETRIC_D_MM / LEAST_D


class KeratometryEntry(BaseFinding):
    """One or two meridians of the cornea of one eye, in the unit they were said in."""

    said: ClassVar = say.Keratometry
    title: ClassVar = "keratometry"
    code: ClassVar = "keratometry"

    kind: Literal["keratometry"] = "keratometry"
    eye: say.OneEye
    unit: Literal["dioptres", "mm"]
    one: float
    one_deg: int | None = None
    other: float | None = None
    other_deg: int | None = None

    @property
    def meridians(self) -> tuple[tuple[float, int | None], ...]:
        """Value and meridian (degrees; None: not said), as said."""
        first = (self.one, self.one_deg)
        return (first,) if self.other is None else (first, (self.other, self.other_deg))

    def power_d(self, value: float) -> float:
        """A value in dioptres of the cornea."""
        return value if self.unit == "dioptres" else KERATOMETRIC_D_MM / value

    def radius_mm(self, value: float) -> float:
        """A value as a radius in millimetres."""
        return value if self.unit == "mm" else KERATOMETRIC_D_MM / value

    def value_words(self) -> str:
        """ "43.50 D (7.76 mm) at 180, 44.25 D (7.63 mm) at 090"."""
        return ", ".join(f"{self._words(value)}{_at(meridian)}" for value, meridian in self.meridians)

    def _words(self, value: float) -> str:
        power, radius = f"{self.power_d(value):.2f} D", f"{self.radius_mm(value):.2f} mm"
        return f"{power} ({radius})" if self.unit == "dioptres" else f"{radius} ({power})"

    def quantities(self) -> tuple[Quantity, ...]:
        """Power of the cornea, radius and meridian, of each."""
        found: list[Quantity] = []
        for name, (value, meridian) in zip(("", "other-"), self.meridians, strict=False):
            found.append(Quantity(f"{name}corneal-power", round(self.power_d(value), 2), "[diop]"))
            found.append(Quantity(f"{name}radius", round(self.radius_mm(value), 2), "mm"))
            if meridian is not None:
                found.append(Quantity(f"{name}meridian", meridian, "deg"))
        return tuple(found)

    @classmethod
    def from_meaning(cls, meaning: say.Keratometry, context: Context) -> Self:
        """Measured anew each time. Raises NeedsAnswer for what no cornea has."""
        return cls._made(meaning, context.eye(meaning.eye), context)

    def corrected(self, meaning: say.Keratometry, context: Context) -> Self:
        """Other values; the eye stays unless it is named."""
        return self._made(meaning, self.eye if meaning.eye is None else context.eye(meaning.eye), context)

    @classmethod
    def _made(cls, meaning: say.Keratometry, eye: say.OneEye, context: Context) -> Self:
        unit = meaning.unit or ("mm" if meaning.one < LEAST_D / 2 else "dioptres")
        values = [meaning.one] if meaning.other is None else [meaning.one, meaning.other]
        least, greatest = (LEAST_MM, GREATEST_MM) if unit == "mm" else (LEAST_D, GREATEST_D)
        for value in values:
            check_within(
                value, round(least, 2), round(greatest, 2), _SHORT[unit], "a keratometry reading", meaning
            )
        degrees = [each for each in (meaning.one_deg, meaning.other_deg) if each is not None]
        for each in degrees:
            if not 1 <= each <= 180:
                raise refuse(f"meridian {each} is not within 1 to 180 degrees: say it again", meaning)
        if len(degrees) > 1 and degrees[0] == degrees[1]:
            raise refuse("both readings are of one meridian: say them again", meaning)
        if meaning.other is not None and meaning.one != meaning.other and not degrees:
            raise ask("repeat", "along which meridians? say the readings with them", meaning)
        if len(degrees) > 1:
            apart = abs(axis_difference_deg(degrees[0], degrees[1]))
            if apart < 90.0 - MOST_OFF_DEG:
                words = f"meridians {written_axis(degrees[0])} and {written_axis(degrees[1])}"
                context.confirm("oblique_keratometry", f"{words} are {apart:g} degrees apart: is it right?")
        _check_named(meaning, unit)
        return cls(
            eye=eye,
            unit=unit,
            one=meaning.one,
            one_deg=meaning.one_deg,
            other=meaning.other,
            other_deg=meaning.other_deg,
        )


def _check_named(meaning: say.Keratometry, unit: Literal["dioptres", "mm"]) -> None:
    """The flat meridian has the longer radius and the weaker power. Raises NeedsAnswer where it has not."""
    if meaning.named is None or meaning.other is None:
        return
    flat, steep = (meaning.one, meaning.other) if meaning.named == "flat" else (meaning.other, meaning.one)
    if flat < steep if unit == "mm" else flat > steep:
        unit_words = _SHORT[unit]
        raise refuse(
            f"flat {flat:g} {unit_words} is steeper than {steep:g} {unit_words}: say them again", meaning
        )


_SHORT: Final = {"mm": "mm", "dioptres": "D"}


def _at(meridian_deg: int | None) -> str:
    return "" if meridian_deg is None else f" at {written_axis(meridian_deg)}"
