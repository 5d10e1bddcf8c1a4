"""Draws the exchange from its table into a document.

python -m voicelog.live.exchange_drawing docs/exchange.md
"""

import sys
from itertools import groupby
from pathlib import Path

from voicelog.live.exchange_table import HINTS, TABLE, Happening, Move, State

_MARKS = {"asked": "?", "ignored": "·"}


def document() -> str:
    """The whole document: a Mermaid state diagram and the table."""
    return _HEAD.format(diagram=_diagram(), hints=_hints(), table=_table())


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
    return _MARKS.get(move.outcome, "✓ entered by" if move.enters else "✓")


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
    mark = _MARKS.get(move.outcome, "✓ entered" if move.enters else "✓")
    return mark if move.next is state else f"{mark} → {move.next.value}"


_HEAD = """# The exchange between examiner and log

This file is written by `python -m voicelog.live.exchange_drawing docs/exchange.md` from the table in
`voicelog/live/exchange_table.py`; every cell of the table is tested on a session (`tests/live/test_exchange.py`).

✓ obeyed, *entered* when something goes into the log; ? asked about; · left out. Silence changes nothing: a question
stays open on the screen and never enters by itself. What is left out and changes nothing is not drawn.

```mermaid
{diagram}
```

What settles each state:

| state | say |
|---|---|
{hints}

The whole table; a cell without an arrow stays where it is:

{table}

Beside this, the ear: while the program itself speaks, and 0.3 s longer, what its own voice covers is no utterance.
Words that begin later are; words that begin under it and go on are asked about; somebody clearly louder makes it stop
speaking, and hears the tone for "left out" when nothing of the words could be kept. With push-to-talk nothing is heard
while the switch is closed.
"""


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(document(), encoding="utf-8")
