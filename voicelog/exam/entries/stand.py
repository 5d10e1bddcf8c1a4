"""How the eyes stand to each other, and prisms: in prism dioptres, which are no lens powers."""

from typing import ClassVar, Final, Literal, Self

from voicelog.exam.entries.base import BaseFinding, Quantity, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.limits import check_within
from voicelog.phrases import meanings as say

LEAST_PD: Final = 0.25
GREATEST_PD: Final = 100.0  # two prism bars together (from memory); beyond it angles are estimated
GREATEST_PRISM_PD: Final = 50.0  # prism bars end at 40 or 45 (from memory)
_UNIT: Final = "prism dioptres"


class DeviationEntry(BaseFinding):
    """A deviation at a distance, across or up and down; `type` None: phoria or tropia was not said."""

    said: ClassVar = say.Deviation
    title: ClassVar = "deviation"
    code: ClassVar = "deviation"
    corrects_eye: ClassVar[bool] = False

    kind: Literal["deviation"] = "deviation"
    direction: Literal["exo", "eso", "hyper", "hypo", "ortho"]
    type: Literal["phoria", "tropia"] | None = None
    manner: Literal["alternating", "intermittent"] | None = None
    eye: say.OneEye | None = None
    at: Literal["far", "near"] | None = None
    size_pd: float | None = None

    @property
    def about(self) -> say.Eyes:
        """Both eyes: it is of one to the other."""
        return "both"

    @property
    def slot(self) -> str:
        """Far and near by themselves, and up and down beside across."""
        upright = "vertical" if self.direction in ("hyper", "hypo") else "horizontal"
        return f"deviation {upright} {self.at}"

    @property
    def label(self) -> str:
        """ "cover test, near,"."""
        return "cover test" + (f", {self.at}," if self.at else "")

    def value_words(self) -> str:
        """ "4 prism dioptres exophoria", "right hypertropia", "ortho"."""
        size = "" if self.size_pd is None else f"{self.size_pd:g} {_UNIT} "
        manner = f"{self.manner} " if self.manner else ""
        eye = f"{self.eye} " if self.eye else ""
        return f"{size}{manner}{eye}{self.direction}{self.type or ''}"

    def quantities(self) -> tuple[Quantity, ...]:
        """The size."""
        return () if self.size_pd is None else (Quantity("size", self.size_pd, "[p'diop]"),)

    @classmethod
    def from_meaning(cls, meaning: say.Deviation, context: Context) -> Self:
        """Up and down needs its eye. Raises NeedsAnswer."""
        if meaning.direction in ("hyper", "hypo") and meaning.eye is None:
            raise refuse(f"{meaning.direction} of which eye? say it again with the eye", meaning)
        if meaning.size_pd is not None:
            check_within(meaning.size_pd, LEAST_PD, GREATEST_PD, _UNIT, "a deviation", meaning)
        return cls.model_validate(meaning.model_dump(exclude={"kind"}))

    def corrected(self, meaning: say.Deviation, context: Context) -> Self:
        """Another one; the distance stays unless it is named."""
        at = meaning.at or self.at
        return self.from_meaning(meaning.model_copy(update={"at": at}), context)


class PrismEntry(BaseFinding):
    """A prism before one eye, or the same before each."""

    said: ClassVar = say.Prism
    title: ClassVar = "prism"
    code: ClassVar = "prism"

    kind: Literal["prism"] = "prism"
    eye: say.Eyes
    size_pd: float
    base: Literal["in", "out", "up", "down"]

    @property
    def slot(self) -> str:
        """Up and down beside across."""
        return f"prism {self.eye} {'vertical' if self.base in ('up', 'down') else 'horizontal'}"

    def value_words(self) -> str:
        """ "3 prism dioptres base in"."""
        return f"{self.size_pd:g} {_UNIT} base {self.base}"

    def quantities(self) -> tuple[Quantity, ...]:
        """The size."""
        return (Quantity("size", self.size_pd, "[p'diop]"),)

    @classmethod
    def from_meaning(cls, meaning: say.Prism, context: Context) -> Self:
        """Of the eye in hand unless one is named. Raises NeedsAnswer."""
        check_within(meaning.size_pd, LEAST_PD, GREATEST_PRISM_PD, _UNIT, "a prism", meaning)
        eye: say.Eyes = "both" if meaning.eye == "both" else context.eye(meaning.eye)
        return cls(eye=eye, size_pd=meaning.size_pd, base=meaning.base)

    def corrected(self, meaning: say.Prism, context: Context) -> Self:
        """Another one; the eye stays unless it is named."""
        named = meaning if meaning.eye is not None else meaning.model_copy(update={"eye": self.eye})
        return self.from_meaning(named, context)
