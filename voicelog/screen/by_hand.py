"""The round's orders by hand: which key or pedal, and which button, says which phrase.

What is pressed is entered as if it had been typed, so that whatever is asked, noted and carried out is the same as when
it is said. The function keys are those that neither terminals nor browsers use themselves; a foot switch can send any.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Order:
    """What a key says: `phrase`, or `back` while what it orders is in force already (empty: there is no way back)."""

    key: str
    """As browsers write shortcuts: "F2", "Shift+F2"."""
    phrase: str
    back: str = ""


SHOW: Final = Order("F4", "show everything", "show less")
PAUSE: Final = Order("F9", "stop listening", "start listening")
READ_BACK: Final = Order("Shift+F9", "read back off", "read back on")
ORDERS: Final = (
    Order("F2", "next patient"),
    Order("Shift+F2", "finish exam"),
    SHOW,
    Order("Shift+F4", "discard this exam"),
    Order("F8", "louder"),
    Order("Shift+F8", "quieter"),
    PAUSE,
    READ_BACK,
)


@dataclass(frozen=True, slots=True)
class InForce:
    """What was ordered and holds now."""

    everything: bool = False
    paused: bool = False
    silent: bool = False
    """Nothing is read back."""


NOTHING_IN_FORCE: Final = InForce()


def phrase_of(key: str, now: InForce) -> str:
    """What a key says; empty for one that says nothing."""
    order = next((each for each in ORDERS if each.key == key), None)
    if order is None:
        return ""
    is_so = {SHOW: now.everything, PAUSE: now.paused, READ_BACK: now.silent}.get(order, False)
    return order.back if is_so else order.phrase
