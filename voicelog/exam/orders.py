"""Orders to whoever runs the exam: to end it, to discard it, to speak louder; and which are asked about first.

What ends or discards an exam is asked about unless it was said in full, since it may have been somebody's talk; what
discards is asked about in any case.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from voicelog.exam.events import Act, Remove
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say
from voicelog.phrases.at_odds import ENDING

LIVE: Final = ENDING | {
    "louder",
    "quieter",
    "mute",
    "read_back_off",
    "read_back_on",
    "show_everything",
    "show_less",
}
"""All that a live exam can carry out."""

ORDER_WORDS: Final[Mapping[str, str]] = {
    "finish": "exam finished",
    "next_patient": "exam finished, next patient",
    "louder": "louder",
    "quieter": "quieter",
    "mute": "read back off",
    "read_back_off": "read back off",
    "read_back_on": "read back on",
    "show_everything": "showing everything",
    "show_less": "showing less",
}
_ASKED: Final[Mapping[str, str]] = {
    "finish": "finish the exam?",
    "next_patient": "finish the exam and go on to the next patient?",
}


@dataclass(frozen=True, slots=True)
class Orders:
    """What can be carried out where the exam runs.

    `in_full`: the line is, word for word, one that ends an exam and can hardly be anything else. `refers`: the exam may
    still be given a reference.
    """

    known: frozenset[str] = field(default_factory=frozenset)
    in_full: bool = False
    refers: bool = False


NO_ORDERS: Final = Orders()


def asked_first(state: ExamState, order: say.Plain, orders: Orders, *, heard: bool) -> str:
    """The question before an order that ends or discards; empty where it may be carried out at once."""
    if order.kind not in orders.known:
        return ""
    if order.kind == "discard":
        count = len(state.ledger.live)
        return f"discard the exam, {count} entr{'y' if count == 1 else 'ies'}?"
    return _ASKED.get(order.kind, "") if heard and not orders.in_full else ""


def discarding(state: ExamState) -> Act | None:
    """The act that takes out all that counts; None where nothing does. The journal keeps what was said."""
    rows = state.ledger.live
    if not rows:
        return None
    changes = tuple(Remove(id=row.id) for row in rows)
    return Act(changes=changes, words=f"exam discarded: {len(changes)} taken out")
