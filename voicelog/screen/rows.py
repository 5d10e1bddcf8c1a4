"""A line of the log as rows: one for each thing that was said back, with what became of each entry since. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from voicelog.exam.entries import ReadingEntry
from voicelog.exam.events import Act, LeftOut, Line, Put
from voicelog.exam.ledger import Row as LedgerRow
from voicelog.exam.state import EYES, ExamState
from voicelog.phrases.outcome import Outcome

Fate = Literal["live", "corrected", "withdrawn", "superseded"]
"""What became of an entry; superseded: a later neutral of its meridian stands."""


LEFT_OUT_WORDS: Final[Mapping[LeftOut, str]] = {
    "": "left out",
    "talk": "not for the log",
    "unclear": "not clear",
    "over_speech": "said over the program's own voice",
    "paused": "said while paused",
    "failed": "lost to a fault",
    "refused": "kept late",
}
"""What a line says of which nothing came."""


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that came of a line.

    id       of its entry ("12", "12.2"); of what is none, the line's number, with "-2" and so on behind it
    said     the words of the line, on its first row; empty on the others
    reply    what was said back
    now      what a corrected entry is now, or what else of it changed (a distance that was said later); else empty
    by       number of the line that last changed it
    """

    id: str
    number: int
    outcome: Outcome
    said: str
    reply: str
    fate: Fate = "live"
    now: str = ""
    by: int | None = None


def rows_of(state: ExamState, line: Line) -> tuple[Row, ...]:
    """The rows of one line, as the state now is."""
    if line.outcome == "ignored":
        why = "; ".join(text for text in (LEFT_OUT_WORDS[line.left_out], line.reply) if text)
        return (Row(str(line.number), line.number, "ignored", line.text, why),)
    found = tuple(_rows(line)) or (Row(str(line.number), line.number, line.outcome, "", ""),)
    first = replace(found[0], said=line.text)
    superseded = superseded_ids(state)
    return tuple(_with_fate(state, superseded, each) for each in (first, *found[1:]))


def superseded_ids(state: ExamState) -> frozenset[str]:
    """The readings whose place a later one took, of all passes."""
    passes = (each for eye in state.eyes.values() for each in eye.passes)
    return frozenset(reading.id for each in passes for reading in each.superseded)


def changed_ids(state: ExamState) -> dict[str, Fate]:
    """Every entry that no longer counts as it was said."""
    superseded = superseded_ids(state)
    fates = ((name, _fate(state, superseded, name)) for name in state.ledger.rows)
    return {name: fate for name, fate in fates if fate != "live"}


def contradicts(line: Line, state: ExamState) -> bool:
    """Whether a reading went in and its eye cannot be as it now stands in the log."""
    eyes = {entry.eye for entry in line.entries if isinstance(entry, ReadingEntry)}
    return any(state.eyes[eye].status == "conflict" for eye in EYES if eye in eyes)


def waiting_words(state: ExamState) -> str:
    """What waits behind a question: "2 wait: which eye?"; empty where nothing does."""
    count = len(state.dialogue.waiting)
    if not count:
        return ""
    blocking = next(each.question for each in reversed(state.dialogue.questions) if each.question.blocks)
    return f"{count} wait{'s' if count == 1 else ''}: {blocking.text}"


def _rows(line: Line) -> Iterator[Row]:
    left = list(line.acts)
    taken = {change.id for act in line.acts for change in act.changes if isinstance(change, Put)}
    for index, reply in enumerate(line.replies):
        act = next((each for each in left if each.words == reply), None)
        if act is not None:
            left.remove(act)
        yield _row(line, index, act, reply, taken)
    for index, act in enumerate(left, start=len(line.replies)):
        yield _row(line, index, act, act.words, taken)


def _row(line: Line, index: int, act: Act | None, reply: str, taken: set[str]) -> Row:
    new = [change.id for change in act.changes if isinstance(change, Put)] if act is not None else []
    plain = str(line.number) if index == 0 else f"{line.number}-{index + 1}"
    name = new[0] if new else plain if plain not in taken else f"{line.number}-1"
    asks = act is None and line.outcome == "asked" and _is_question(line, reply)
    return Row(name, line.number, "asked" if asks else "accepted", "", reply)


def _is_question(line: Line, reply: str) -> bool:
    """A line that was not understood asks without a question; what waits ends in the question it waits for."""
    return line.question is None or reply.endswith(line.question.text)


def _with_fate(state: ExamState, superseded: frozenset[str], row: Row) -> Row:
    entered = state.ledger.rows.get(row.id)
    if entered is None:
        return row
    return replace(row, fate=_fate(state, superseded, row.id), now=_now_words(entered), by=entered.changed_by)


def _fate(state: ExamState, superseded: frozenset[str], name: str) -> Fate:
    entered = state.ledger.rows[name]
    if entered.withdrawn:
        return "withdrawn"
    if name in superseded:
        return "superseded"
    # A reading that a distance was completed in reads as it was said.
    return "corrected" if entered.entry.words() != entered.original.words() else "live"


def _now_words(entered: LedgerRow) -> str:
    entry = entered.entry
    if entered.withdrawn or entry == entered.original:
        return ""
    if isinstance(entry, ReadingEntry) and entry.words() == entered.original.words():
        return entry.allowance.words()
    return entry.words()
