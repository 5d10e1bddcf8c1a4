"""What the command line says of itself, and to wrong use: one line that names what is wrong and what is allowed."""

import argparse
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from time import sleep

import pytest

from tests.interrupts import heed_interrupts
from voicelog.cli import COMMANDS, main, parser_with
from voicelog.record.journal import Journal
from voicelog.record.plain import counted, labelled


def parsers(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    """A parser and those of its commands."""
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for command in action.choices.values():
                yield from parsers(command)


def test_every_command_and_every_option_says_what_it_is_for() -> None:
    found = list(parsers(parser_with(COMMANDS)))

    assert len(found) > len(COMMANDS)
    for parser in found:
        assert parser.description, parser.prog
        for action in parser._actions:
            of_commands = isinstance(action, argparse._SubParsersAction)
            assert action.help or of_commands, f"{parser.prog}: {action.option_strings or action.dest}"


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("demoo", "voicelog: 'demoo' is no command; did you mean demo? There are tour, demo, replay, "),
        ("nothing-like-it", "voicelog: 'nothing-like-it' is no command; there are tour, demo, replay, "),
        ("record lst", "voicelog record: 'lst' is no command; did you mean list? There are list, show, "),
        ("demo --pace slow", "voicelog demo: --pace 'slow': allowed is fast, real\n"),
        (
            "demo extra",
            "voicelog: 'extra' is not understood; voicelog COMMAND --help tells what a command takes\n",
        ),
        ("replay", "voicelog replay: AUDIO must be given; voicelog replay --help tells what it takes\n"),
        ("solve --distance", "voicelog solve: --distance needs a value; voicelog solve --help tells "),
        ("record list --since foo", "voicelog record list: --since: 'foo' is not a day, as in 2026-11-27\n"),
        (
            "type --distance nan",
            "voicelog type: --distance: 'nan' is not a working distance from 10 to 100 cm\n",
        ),
        ("exam --volume 3", "voicelog exam: --volume: '3' is not a number from 0 to 1\n"),
        ("phrases --rule line", "voicelog: --rule needs --sample N: the card has all rules\n"),
        ("record import nosuch.json", "voicelog: nosuch.json: no such file or folder\n"),
    ],
)
def test_wrong_use_is_told_in_one_line(
    given: str, told: str, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    try:
        status = main(given.split())
    except SystemExit as stop:
        status = int(stop.code or 0)
    out, err = capsys.readouterr()

    assert (status, out) == (2, "")
    assert err.startswith(told)
    assert len(err.splitlines()) == 1


def typed(lines: str, data: Path, *options: str) -> subprocess.CompletedProcess[str]:
    """What `voicelog type` prints of lines from a pipe."""
    return subprocess.run(
        [sys.executable, "-m", "voicelog", "type", *options],
        input=lines,
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"VOICELOG_DATA": str(data)},
    )


def test_an_exam_is_kept_from_its_first_entry_and_says_where(tmp_path: Path) -> None:
    nothing = typed("\nhow are you today\n", tmp_path / "a")
    one = typed("right eye\nplus two\n", tmp_path / "a")
    left_out = typed("right eye\n", tmp_path / "a", "--no-record")

    assert nothing.stderr.endswith("not kept: nothing was entered\n")
    assert left_out.stderr == "not kept: --no-record was given\n"
    with Journal.open(tmp_path / "a") as journal:
        (exam,) = (each.id for each in journal.overviews())
    asked, kept = one.stderr.splitlines()
    assert asked == "asked: plus two: which meridian?"
    assert kept == f"kept: exam {exam}; voicelog record show {exam}"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal")
def test_at_a_terminal_every_line_is_answered_and_ctrl_c_ends_the_exam(tmp_path: Path) -> None:
    import pty

    person, terminal = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "voicelog", "type"],
        stdin=terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env=os.environ | {"VOICELOG_DATA": str(tmp_path / "data")},
        preexec_fn=heed_interrupts,
    ) as program:
        os.close(terminal)
        assert program.stderr is not None
        assert program.stdout is not None
        hint = [program.stderr.readline() for _ in range(2)]
        os.write(person, b"right eye\n")
        entered = program.stderr.readline()
        os.write(person, b"plus two\n")
        asked = program.stderr.readline()
        sleep(0.5)  # it waits for a line by then: just before, a signal would not end the wait
        program.send_signal(2)  # as Ctrl-C sends it
        out, rest = program.stdout.read(), program.stderr.read()
    os.close(person)

    assert "Ctrl-D ends the exam" in hint[1]
    assert (entered, asked) == ("  ✓ right eye\n", "  ? which meridian?\n")
    assert "entry log" in out
    assert rest.startswith("kept: exam ")
    assert program.returncode == 0


def test_numbers_have_their_noun_and_values_their_label_once() -> None:
    assert [counted(1, "eye"), counted(2, "eye"), counted(0, "pass"), counted(1, "pass")] == [
        "1 eye",
        "2 eyes",
        "0 passes",
        "1 pass",
    ]
    assert labelled("reflex", "dull reflex, noted 09:00 UTC") == "dull reflex, noted 09:00 UTC"
    assert labelled("acuity unaided", "6/18") == "acuity unaided 6/18"
