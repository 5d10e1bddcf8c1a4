"""The age of the patient, as it was said: limits that hold for children go by it. Never a birth date."""

from typing import ClassVar, Final, Literal

from voicelog.exam.entries.base import BaseFinding, Quantity, refuse
from voicelog.exam.entries.context import Context
from voicelog.phrases import meanings as say

GREATEST_YEARS: Final = 120
_MONTHS: Final = 12
_LONGEST_IN_MONTHS: Final = 71
"""Six years and more are not said in months (common practice, no source)."""


class AgeEntry(BaseFinding):
    """An age in whole years, in whole months, or both; said again it takes the place of the one before."""

    said: ClassVar = say.PatientAge
    title: ClassVar = "age"
    code: ClassVar = "age"

    kind: Literal["patient_age"] = "patient_age"
    years: int | None = None
    months: int | None = None

    @property
    def between_months(self) -> tuple[int, int]:
        """The fewest and the most whole months that it can be: "seven" is anything from 84 to 95."""
        least = (self.years or 0) * _MONTHS + (self.months or 0)
        return least, least + (_MONTHS - 1 if self.months is None else 0)

    def value_words(self) -> str:
        """ "3 years 6 months", "18 months", "1 year"."""
        parts = ((self.years, "year"), (self.months, "month"))
        return " ".join(
            f"{count} {unit}{'' if count == 1 else 's'}" for count, unit in parts if count is not None
        )

    def quantities(self) -> tuple[Quantity, ...]:
        """Years and months, as they were said."""
        both = (("years", self.years, "a"), ("months", self.months, "mo"))
        return tuple(Quantity(part, value, unit) for part, value, unit in both if value is not None)  # type: ignore[arg-type]

    @classmethod
    def from_meaning(cls, meaning: say.PatientAge, context: Context) -> "AgeEntry":
        """Raises NeedsAnswer for an age that nobody has, or that is not said so."""
        years, months = meaning.age.years, meaning.age.months
        most = _MONTHS - 1 if years is not None else _LONGEST_IN_MONTHS
        if months is not None and months > most:
            raise refuse(f"{months} months are more than {most}: say the age again", context.meaning)
        if years is not None and years > GREATEST_YEARS:
            raise refuse(f"{years} years are more than {GREATEST_YEARS}: say the age again", context.meaning)
        return cls(years=years, months=months)

    def corrected(self, meaning: say.PatientAge, context: Context) -> "AgeEntry":
        """Another age."""
        return AgeEntry.from_meaning(meaning, context)
