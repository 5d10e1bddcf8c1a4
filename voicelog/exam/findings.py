"""What was found beside the readings. Of findings with one slot the last counts; the ledger keeps them all."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from voicelog.exam.entries import BaseFinding
from voicelog.exam.events import event_number
from voicelog.phrases.meanings import OneEye

Kind = TypeVar("Kind", bound=BaseFinding)


@dataclass(frozen=True, slots=True)
class Found:
    """One finding of the ledger, with its id."""

    id: str
    entry: BaseFinding

    @property
    def number(self) -> int:
        """The number of its event."""
        return event_number(self.id)


@dataclass(frozen=True, slots=True)
class Findings:
    """Every finding that counts, in the order it was said."""

    found: tuple[Found, ...] = field(default=())

    @property
    def empty(self) -> bool:
        """Whether nothing was found, the technique apart."""
        return all(each.entry.kind == "technique" for each in self.found)

    def after(self, name: str, entry: BaseFinding) -> "Findings":
        """With one more; it takes the place of the one in its slot."""
        slot = entry.slot
        kept = [each for each in self.found if slot is None or each.entry.slot != slot]
        return Findings((*kept, Found(name, entry)))

    def of(self, kind: type[Kind]) -> Iterator[tuple[str, Kind]]:
        """The findings of one kind with their ids, in order."""
        return ((each.id, each.entry) for each in self.found if isinstance(each.entry, kind))

    def last(self, kind: type[Kind], eye: OneEye | None = None) -> Kind | None:
        """The last finding of a kind that is of that eye or of both (None: whosever it is)."""
        wanted = [entry for _, entry in self.of(kind) if eye is None or entry.about in (eye, "both")]
        return wanted[-1] if wanted else None

    def slot(self, name: str) -> BaseFinding | None:
        """The finding in a slot."""
        return next((each.entry for each in self.found if each.entry.slot == name), None)
