"""Every cell of the exchange's table happens so in a real session, and the document shows the table."""

from itertools import product
from pathlib import Path

import pytest

from tests.live.exchange import happen, in_state
from tests.session.test_session import hearing
from voicelog.live.exchange_drawing import document, rules_of
from voicelog.live.exchange_table import HINTS, TABLE, Happening, Move, State, state_of

DOCUMENT = Path(__file__).parents[2] / "docs" / "exchange.md"


@pytest.mark.parametrize(("state", "happening"), list(product(State, Happening)))
def test_the_session_does_what_the_table_says(state: State, happening: Happening) -> None:
    session = in_state(state)
    assert state_of(session.state) is state
    before = session.state

    line = happen(session, happening, state)

    now = session.state
    entered = now.ledger.rows != before.ledger.rows
    waits = len(now.dialogue.waiting) > len(before.dialogue.waiting)
    assert Move(line.outcome, entered, waits, state_of(now)) == TABLE[state][happening]


def test_the_table_has_every_cell_and_reaches_every_state() -> None:
    assert {state: set(row) for state, row in TABLE.items()} == {state: set(Happening) for state in State}
    reached = {State.LISTENING, State.ASKED_EYE}  # the latter by the first entry before an eye was named
    while True:
        further = {move.next for state in reached for move in TABLE[state].values()} | reached
        if further == reached:
            break
        reached = further
    assert reached == set(State) == set(HINTS)


@pytest.mark.parametrize(
    "state", [State.ASKED_FOR_PART, State.ASKED_EYE, State.ASKED_AGAIN, State.WAITING_FOR_PART]
)
def test_resuming_leads_back_to_whichever_question_was_open(state: State) -> None:
    session = in_state(state)
    for text in ("stop listening", "start listening"):
        session.take_heard(hearing(text))

    assert state_of(session.state) is state


def test_the_document_is_up_to_date() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")

    assert text == document(rules_of(text))
