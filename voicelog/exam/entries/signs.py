"""Two findings of the first look at a pair of eyes: an afferent pupil defect, the near point of convergence."""

from typing import ClassVar, Final, Literal

from voicelog.exam.entries.base import BaseFinding, Quantity
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.limits import check_within
from voicelog.phrases import meanings as say

# From just before the nose to beyond arm's length, where nobody converges any more (common practice, no source).
LEAST_CM, GREATEST_CM = 1.0, 60.0


class AfferentDefectEntry(BaseFinding):
    """A relative afferent pupil defect of one eye, or that there is none (of both eyes)."""

    said: ClassVar = say.AfferentDefect
    title: ClassVar = "relative afferent pupil defect"
    code: ClassVar = "afferent-pupil-defect"

    kind: Literal["afferent_defect"] = "afferent_defect"
    eye: say.Eyes
    present: bool

    @property
    def slot(self) -> str:
        """One for both eyes: a defect is relative to the other eye."""
        return "afferent defect"

    def value_words(self) -> str:
        """ "present", "none"."""
        return "present" if self.present else "none"

    @classmethod
    def from_meaning(cls, meaning: say.AfferentDefect, context: Context) -> "AfferentDefectEntry":
        """A defect is of the eye in hand unless one is named. Raises NeedsAnswer."""
        return cls(
            eye=context.eye(meaning.eye) if meaning.present else "both",
            present=meaning.present,
        )

    def corrected(self, meaning: say.AfferentDefect, context: Context) -> "AfferentDefectEntry":
        """Another one."""
        return AfferentDefectEntry.from_meaning(meaning, context)


class ConvergenceEntry(BaseFinding):
    """The near point of convergence: where fusion breaks, and where it comes back if that was said (centimetres)."""

    said: ClassVar = say.Convergence
    title: ClassVar = "near point of convergence"
    code: ClassVar = "near-point-of-convergence"

    kind: Literal["convergence"] = "convergence"
    break_cm: float
    recovery_cm: float | None = None

    @property
    def about(self) -> say.Eyes:
        """It belongs to both eyes."""
        return "both"

    def value_words(self) -> str:
        """ "8 cm", "8 cm, recovery 11 cm"."""
        recovery = "" if self.recovery_cm is None else f", recovery {self.recovery_cm:g} cm"
        return f"{self.break_cm:g} cm{recovery}"

    def quantities(self) -> tuple[Quantity, ...]:
        """Break and recovery."""
        both = (("break", self.break_cm), ("recovery", self.recovery_cm))
        return tuple(Quantity(part, value, "cm") for part, value in both if value is not None)

    @classmethod
    def from_meaning(cls, meaning: say.Convergence, context: Context) -> "ConvergenceEntry":
        """Within an arm's length. Raises NeedsAnswer."""
        for value in (meaning.break_cm, meaning.recovery_cm):
            if value is not None:
                check_within(value, LEAST_CM, GREATEST_CM, "cm", _TITLE, context.meaning)
        return cls(break_cm=meaning.break_cm, recovery_cm=meaning.recovery_cm)

    def corrected(self, meaning: say.Convergence, context: Context) -> "ConvergenceEntry":
        """Another value."""
        return ConvergenceEntry.from_meaning(meaning, context)


_TITLE: Final = f"a {ConvergenceEntry.title}"
