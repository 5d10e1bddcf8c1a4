"""What the commands that run an exam print of it."""

import json
import sys
from collections.abc import Callable, Iterator

from rich.console import Console

from voicelog.errors import VoicelogError
from voicelog.exam.events import Line
from voicelog.exam.summary import summary
from voicelog.record.inert import inert
from voicelog.screen.terminal import MARKS, print_result, refraction
from voicelog.session import Session


def print_exam(session: Session, *, as_json: bool) -> None:
    """The exam as it stands: for people with its results below, or as one object."""
    if as_json:
        print(json.dumps(summary(session.state), indent=2))
        return
    console = Console()
    print_result(console, session.state, session.acuity_notation)
    for name, eye in session.state.eyes.items():
        if eye.status in ("solved", "conflict") and eye.solution.net is not None:
            console.print(f"{name} eye: {refraction(eye.solution.net)}  ({eye.status})")
        if eye.mean is not None:
            console.print(f"{name} eye, mean of {eye.mean.count} passes: {refraction(eye.mean.net)}")


def print_kept(session: Session, *, keep: bool) -> None:
    """Say where the exam is kept, beside what is printed of it."""
    if keep and not session.is_empty:
        print(f"kept: exam {session.name}; voicelog record show {session.name}", file=sys.stderr)
    else:
        print(f"not kept: {'nothing was entered' if keep else '--no-record was given'}", file=sys.stderr)


def entered(enter: Callable[[], Line], what: str, *, answers: bool = False) -> bool:
    """Enter; False, and said, where the record refuses (a full disk): nothing behind it may then go in.

    What is refused may have named an eye or a lens, and what follows would be taken with the one before. With `answers`
    a person types at a terminal: every reply is shown, not only what was asked or left out.
    """
    try:
        said = enter()
    except VoicelogError as error:
        print(inert(f"NOT ENTERED, nor anything behind it: {what} ({error})"), file=sys.stderr)
        return False
    if answers:
        print(f"  {MARKS[said.outcome]} {inert(said.reply)}", file=sys.stderr)
    elif said.source == "typed" and said.outcome != "accepted":
        print(f"{said.outcome}: {inert(what)}: {inert(said.reply)}", file=sys.stderr)
    return True


def standard_input() -> Iterator[str]:
    """Lines of standard input, decoded leniently: a stray byte spoils its line, not the run."""
    for raw in sys.stdin.buffer:
        yield raw.decode("utf-8", errors="replace")
