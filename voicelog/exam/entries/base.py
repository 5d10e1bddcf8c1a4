"""What every kind of entry has: how it comes from what was said, its words, its numbers, what a correction keeps.

What was *said* may leave out eye, place, axis or distance. What is *entered* leaves out nothing: a type of entry has no
room for half a lens. So nothing behind the entering has to ask whether an entry is whole.
"""

from dataclasses import dataclass
from typing import Any, ClassVar, Literal, Self

from voicelog.exam.questions import Missing, NeedsAnswer, Question
from voicelog.phrases.meanings import Eyes, Meaning, Model, OneEye

Unit = Literal["[diop]", "[p'diop]", "deg", "mm", "cm", "%", "min", "a", "mo", "{cycles}/deg", "1"]
"""UCUM's code; "[p'diop]" prism dioptres, "a" years, "mo" months, "1" for logMAR and counts."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number of an entry with its unit."""

    part: str
    value: float
    unit: Unit


class BaseEntry(Model):
    """One complete entry.

    `said` is the kind of meaning that it comes from, `title` its name in words, `code` its name in exports.
    """

    said: ClassVar[type[Model]]
    title: ClassVar[str]
    code: ClassVar[str]
    corrects_eye: ClassVar[bool] = True
    """Whether a correction that names another eye may move it there."""

    kind: str

    @property
    def about(self) -> Eyes | None:
        """The eye it belongs to; None for what belongs to none."""
        return getattr(self, "eye", None)

    @property
    def export_code(self) -> str:
        """Its name in exports; kinds that hold several things have one for each."""
        return self.code

    def words(self) -> str:
        """The whole entry in words, as it is said back, the eye named."""
        raise NotImplementedError(f"{type(self).__name__} has no words")

    def quantities(self) -> tuple[Quantity, ...]:
        """Its numbers with their units, for exports."""
        return ()

    def as_json(self) -> dict[str, Any]:
        """The entry as plain data; `model_validate` reads it back."""
        return self.model_dump(mode="json")

    def with_changes(self, **changes: Any) -> Self:
        """The same entry with other values, checked as a new one is."""
        return type(self).model_validate({**self.model_dump(by_alias=False), **changes})


class BaseFinding(BaseEntry):
    """A finding beside the readings. Of those with one `slot` the last counts; None: each counts by itself."""

    @property
    def slot(self) -> str | None:
        """What it takes the place of when it is said again."""
        return f"{self.kind} {self.about or ''}".strip()

    @property
    def label(self) -> str:
        """Its name in a list where the eye stands apart."""
        return self.title

    def value_words(self) -> str:
        """Its value in words, without name and eye."""
        raise NotImplementedError(f"{type(self).__name__} has no words")

    def words(self) -> str:
        """The finding in words, the eye named."""
        return f"{eye_words(self.about)}{self.label} {self.value_words()}".strip()


def eye_words(eye: Eyes | None) -> str:
    """ "right eye: ", "both eyes: ", or nothing."""
    return "" if eye is None else "both eyes: " if eye == "both" else f"{eye} eye: "


def other_eye(eye: OneEye) -> OneEye:
    """The fellow eye."""
    return "left" if eye == "right" else "right"


def refuse(text: str, candidate: Meaning | None = None) -> NeedsAnswer:
    """Cannot be: it is to be said again."""
    return NeedsAnswer(Question(missing="repeat", text=text, candidate=candidate))


def ask(missing: Missing, text: str, candidate: Meaning | None) -> NeedsAnswer:
    """A part is missing."""
    return NeedsAnswer(Question(missing=missing, text=text, candidate=candidate))
