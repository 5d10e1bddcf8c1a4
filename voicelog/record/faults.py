"""What a check of the record finds wrong, in words that name the place."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong. `exam` and `number` say where, as far as that is known."""

    what: str
    exam: str | None = None
    number: object = None

    def __str__(self) -> str:
        place = "" if self.exam is None else f"exam {self.exam}"
        place += "" if self.number is None else f", event {self.number}"
        return f"{place}: {self.what}" if place else self.what
