"""Draws the exchange from its table into a document.

python -m voicelog.live.exchange_drawing docs/exchange.md
"""

import sys
from itertools import groupby
from pathlib import Path

from voicelog.live.exchange_table import HINTS, TABLE, Happening, Move, State

_MARKS = {"asked": "?", "ignored": "·"}
_ENTERED_BY = "✓ entered by"


RULES_MARK = "<!-- rules -->"


def document(rules: str = "") -> str:
    """The whole document: a Mermaid state diagram, the table, and `rules`, which are written by hand."""
    return _HEAD.format(diagram=_diagram(), hints=_hints(), table=_table(), rules=rules or _NO_RULES)


def rules_of(text: str) -> str:
    """The part of a document from the first mark of the rules to the last, marks and all; empty without marks."""
    first, last = text.find(RULES_MARK), text.rfind(RULES_MARK)
    return text[first : last + len(RULES_MARK)] if first < last else ""


def _diagram() -> str:
    lines = ["stateDiagram-v2", f"    [*] --> {State.LISTENING.name}"]
    lines.append(f"    [*] --> {State.ASKED_EYE.name} : ? an entry before any eye was named")
    lines += [f'    state "{state}" as {state.name}' for state in State]
    for state, row in TABLE.items():
        moves = sorted(
            ((move, happening) for happening, move in row.items() if _is_drawn(state, move)),
            key=lambda each: (each[0].next.name, _mark(each[0])),
        )
        for (follower, mark), group in groupby(moves, key=lambda each: (each[0].next, _mark(each[0]))):
            said = ", ".join(happening.value for _, happening in group)
            lines.append(f"    {state.name} --> {follower.name} : {mark} {said}")
    return "\n".join(lines)


def _is_drawn(state: State, move: Move) -> bool:
    return move.outcome != "ignored" or move.next is not state


def _mark(move: Move) -> str:
    return _ENTERED_BY if move.enters else _short_mark(move)


def _short_mark(move: Move) -> str:
    return "…" if move.waits else _MARKS.get(move.outcome, "✓ entered" if move.enters else "✓")


def _hints() -> str:
    return "\n".join(f"| {state.value} | {hint} |" for state, hint in HINTS.items())


def _table() -> str:
    lines = [
        "| what is said | " + " | ".join(state.value for state in State) + " |",
        "|---|" + "---|" * len(State),
    ]
    for happening in Happening:
        cells = (_cell(state, TABLE[state][happening]) for state in State)
        lines.append(f"| {happening.value} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _cell(state: State, move: Move) -> str:
    mark = _short_mark(move)
    return mark if move.next is state else f"{mark} → {move.next.value}"


_HEAD = """# The exchange between examiner and log

This file is written by `python -m voicelog.live.exchange_drawing docs/exchange.md`. It comes from the table in
`voicelog/live/exchange_table.py`. Every cell of the table is tested on a session (`tests/live/test_exchange.py`).

✓ obeyed, *entered* when it changes the log; ? asked about; … waits; · left out. Silence changes nothing: a question
stays open on the screen and never enters by itself. A question of one entry stays open while others are entered; where
readings depend on what is in question (eye, distance, lens, mirror, condition, pass), entries wait for the answer and
are then entered in their order. Several questions can be open: the last one asked is in hand, and when it is settled
the one before it is in hand again. "Scratch that" with a question open closes the question and nothing else. A
correction that names no entry ("make that plus three") is of what was asked about last, unless something was entered
since. What is left out and changes nothing is not drawn.

```mermaid
{diagram}
```

What settles each state:

| state | say |
|---|---|
{hints}

The whole table; a cell without an arrow stays where it is:

{table}

{rules}

Beside this, the ear: while the program itself speaks, and 0.3 s longer, what its own voice covers is no utterance.
Words that begin later are; words that begin under it and go on are asked about; somebody clearly louder makes it stop
speaking, and hears the tone for "left out" when nothing of the words could be kept. With push-to-talk nothing is heard
while the switch is closed. Orders from patient to patient, by voice, key, pedal and button: [round.md](round.md).
"""


_NO_RULES = f"{RULES_MARK}\n{RULES_MARK}"


if __name__ == "__main__":
    place = Path(sys.argv[1])
    place.write_text(document(rules_of(place.read_text(encoding="utf-8"))), encoding="utf-8")
