"""Readings that belong to the other eye: two are two values, wherever a streak was laid between."""

from voicelog.session import Session
from voicelog.settings import Settings

BEFORE = ("fifty centimetres", "right eye", "vertical plus two", "horizontal plus three")


def _session(*lines: str) -> tuple[Session, str]:
    session = Session(Settings(naming="streak"))
    for line in (*BEFORE, *lines):
        reply = session.type_line(line).reply
    return session, reply


def _gross_d(session: Session) -> dict[str, list[float]]:
    return {eye: [row.gross_d for row in state.neutral] for eye, state in session.state.eyes.items()}


def test_a_streak_that_is_laid_is_no_value() -> None:
    session, asked = _session("left eye", "streak vertical", "those two are left")

    assert asked.startswith("move to the left eye: right eye: streak vertical")
    assert session.type_line("yes").outcome == "accepted"
    assert _gross_d(session) == {"right": [], "left": [2.0, 3.0]}


def test_streaks_laid_for_the_two_go_with_them() -> None:
    session = Session(Settings(naming="streak"))
    for line in ("fifty centimetres", "right eye", "streak vertical", "neutral plus two"):
        session.type_line(line)
    for line in ("streak horizontal", "neutral plus three", "those two were the left", "yes"):
        session.type_line(line)

    assert _gross_d(session) == {"right": [], "left": [2.0, 3.0]}


def test_one_that_was_moved_already_is_not_moved_again() -> None:
    session, reply = _session("that was the left eye", "both of those are left")

    assert reply == (
        "moved to the left eye: left eye: streak vertical (power along 180) neutral, sphere +2.00; left eye in hand"
    )
    assert _gross_d(session) == {"right": [], "left": [2.0, 3.0]}


def test_the_same_move_said_twice_in_a_breath_is_made_once() -> None:
    session, asked = _session("whoops, i was on the left all along, those two are left")

    assert asked.startswith("move to the left eye: ")
    session.type_line("yes")
    assert _gross_d(session) == {"right": [], "left": [2.0, 3.0]}


def _right_along_d(session: Session) -> dict[int, float]:
    return {row.meridian_deg: row.gross_d for row in session.state.eyes["right"].neutral}


def test_two_orders_to_swap_are_one_swap() -> None:
    session, reply = _session("i have those two reversed", "swap them")

    assert reply == "they were swapped just now: swap them back?"
    assert _right_along_d(session) == {180: 3.0, 90: 2.0}
    session.type_line("yes")
    assert _right_along_d(session) == {180: 2.0, 90: 3.0}


def test_behind_something_else_they_are_swapped_back_at_once() -> None:
    session, _ = _session("i have those two reversed", "what is missing", "note tired", "swap those two")

    assert _right_along_d(session) == {180: 2.0, 90: 3.0}
