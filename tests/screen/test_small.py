"""The live exam on a terminal of 80 columns and 24 rows, as a terminal emulator shows it."""

import fcntl
import itertools
import json
import os
import pty
import struct
import subprocess
import sys
import termios
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pyte
import pytest

from tests.exam.typing import typed
from tests.live.test_visit_by_voice import FIRST
from tests.page.far_cases import BEGUN, BOTH, CASES, LONGEST
from voicelog.exam.events import Line
from voicelog.exam.state import ExamState
from voicelog.screen.eyes import progress_words
from voicelog.screen.turn import SHAPES, Sound, Turn, turn_of

COLUMNS, ROWS = 80, 24
MARKS = {"entered": "✓ entered", "asked": "? asked", "contradicts": "! CONTRADICTS", "answer": "◂ answer"}


class Terminal:
    """A pseudo-terminal with the child on it, and what an emulator makes of what it writes."""

    def __init__(self) -> None:
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        environ = {
            name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES", "NO_COLOR")
        }
        self._child = subprocess.Popen(
            [sys.executable, "-m", "tests.screen.small_child"],
            cwd=Path(__file__).parents[2],
            env=environ | {"TERM": "xterm-256color"},
            stdin=subprocess.PIPE,
            stdout=slave,
            text=True,
        )
        os.close(slave)
        self._screen = pyte.Screen(COLUMNS, ROWS)
        self._stream = pyte.ByteStream(self._screen)
        self._count = 0
        self._read_until("drawn 0")

    def show(self, lines: Sequence[str], *, tell: str = "", **status: object) -> list[str]:
        """The rows of the screen once an exam with these lines is drawn with such a status."""
        assert self._child.stdin is not None
        print(
            json.dumps({"lines": lines, "status": status, "tell": tell}), file=self._child.stdin, flush=True
        )
        self._count += 1
        self._read_until(f"drawn {self._count}")
        return list(self._screen.display)

    def close(self) -> None:
        assert self._child.stdin is not None
        self._child.stdin.close()
        self._child.kill()
        self._child.wait()
        os.close(self._master)

    def _read_until(self, title: str) -> None:
        while self._screen.title != title:
            self._stream.feed(os.read(self._master, 4096))


@pytest.fixture(scope="module", name="terminal")
def _terminal() -> Iterator[Terminal]:
    terminal = Terminal()
    yield terminal
    terminal.close()


def plain(texts: Sequence[str]) -> str:
    return " ".join(" ".join(texts).split())


def missing_of(rows: list[str], state: ExamState, turn: Turn) -> list[str]:
    """What must be in sight and is not."""
    wanted = {
        f"{SHAPES[turn]} {turn.value.upper()}": rows[:1],
        **{f"{name.upper()} EYE": rows for name in ("right", "left")},
    }
    if state.question is not None:
        wanted[f"? ASKED: {state.question.text}"] = rows
    values = [row.entry.words() for row in state.ledger.live if row.entry.kind not in ("eye", "place")]
    if values:
        wanted[f"last value: {values[-1]}"] = rows
    for name, half in (("right", slice(0, COLUMNS // 2)), ("left", slice(COLUMNS // 2, None))):
        eye: Any = state.eyes[name]  # type: ignore[index]
        net = eye.result or eye.solution.net
        wanted[str(net) if net is not None else progress_words(eye)] = [row[half] for row in rows]
    return [text for text, where in wanted.items() if text not in plain(where)]


@pytest.mark.parametrize(("before", "said", "picture"), CASES, ids=[said for _, said, _ in CASES])
def test_whatever_is_said_all_that_matters_is_in_sight_and_nothing_is_cut(
    terminal: Terminal, before: tuple[str, ...], said: str, picture: str
) -> None:
    state = typed("\n".join((*before, said)))[1]
    turn = turn_of(Sound(), state)
    rows = terminal.show((*before, said), turn=turn.value)

    assert missing_of(rows, state, turn) == []
    text, line = plain(rows), state.events[-1]
    assert isinstance(line, Line)
    assert f"{MARKS[picture]}: {line.text}" in text
    question = "" if state.question is None else state.question.text
    for reply in line.replies:
        assert reply.removesuffix(question).rstrip(" ;:") in text
    assert "more in the log" not in text


@pytest.mark.parametrize("turn", Turn)
def test_every_state_is_shown_in_words_and_shape_whatever_else_there_is(
    terminal: Terminal, turn: Turn
) -> None:
    for lines in (
        (),
        (*BEGUN, "streak ninety neutral at two"),
        (*BOTH, "what is missing"),
        (*LONGEST, "swap the eyes"),
    ):
        state = typed("\n".join(lines))[1]
        rows = terminal.show(
            lines,
            turn=turn.value,
            hint="plug it in: it is tried again every second",
            missed="2 not heard while paused, 1 under the program's own voice",
            notice="HELD: left eye (another process holds the record); all that is said waits for it",
            banner="NOT KEPT: this exam is lost when it ends (--no-record)",
            typed="streak forty five neu",
        )

        assert missing_of(rows, state, turn) == []
        for text in (
            "HELD: left eye (another process",
            "NOT KEPT",
            "2 not heard while paused",
            "> streak forty five neu",
        ):
            assert text in plain(rows)


def test_what_is_told_above_the_screen_takes_nothing_along(terminal: Terminal) -> None:
    """Where an exam was kept stands above, as long as there is room, and else in the terminal's history."""
    told = "kept: exam 2026-05-04, reference K711: right +1.00 DS, left +1.00 DS"
    for lines in (LONGEST, (*BOTH, "what is missing"), ()):
        rows = terminal.show(lines, tell=told, turn="listening")
        at = next(index for index, row in enumerate(rows) if "LISTENING" in row)
        assert missing_of(rows[at:], typed("\n".join(lines))[1], Turn.LISTENING) == []
        assert plain(rows[:at]) in ("", *(" ".join([told] * count) for count in (1, 2, 3)))


def test_the_shapes_of_the_states_are_different() -> None:
    assert all(one != other for one, other in itertools.combinations(SHAPES.values(), 2))


def test_where_not_even_the_replies_have_room_how_many_are_left_out_is_said(terminal: Terminal) -> None:
    """Three things in one line, each with its reply, beneath a notice that fills most of the screen."""
    said = "left eye streak vertical plus two streak horizontal plus two and a half"
    rows = terminal.show(
        (*LONGEST, "swap the eyes", said),
        turn="asked",
        notice="x " * 520,
        banner="NOT KEPT: this exam is lost when it ends",
    )

    assert "more in the log" in plain(rows)
    assert missing_of(rows, typed("\n".join((*LONGEST, "swap the eyes", said)))[1], Turn.ASKED) == []


@pytest.mark.parametrize(
    "count", [len(FIRST), *(pytest.param(each, marks=pytest.mark.sweep) for each in range(1, len(FIRST)))]
)
def test_all_findings_of_a_whole_visit_leave_what_matters_in_sight(terminal: Terminal, count: int) -> None:
    """Forty findings and readings: both refractions, the last value and whether it listens stand there all the same."""
    lines = tuple(FIRST)[:count]
    state = typed("\n".join(lines))[1]
    turn = turn_of(Sound(), state)

    rows = terminal.show(lines, turn=turn.value)

    assert missing_of(rows, state, turn) == []
    assert len(rows) == ROWS
