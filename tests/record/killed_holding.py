"""A live exam whose record refuses entries for a while, killed by `killing`: what was held goes in at the next start."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from tests.live.test_held import HEARD, TALK, Live, count_held, texts
from voicelog.live import entering
from voicelog.record.errors import RecordBusyError
from voicelog.record.exam_store import ExamStore
from voicelog.record.held import HeldFile, take_up
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify

from .killed_jobs import Say, left_over, some_exams

BEFORE: Final = ("working distance sixty seven", "right eye")
HELD: Final = (HEARD[1], "acuity six nine", HEARD[3], "dull reflex")
LATER: Final = ("left eye", "acuity six twelve")


def warmed_up(place: Path) -> None:
    """A record of three exams; and what each life would load anew is loaded, once for all."""
    some_exams(place)
    with TemporaryDirectory() as elsewhere:
        hold(Path(elsewhere), lambda _: None)


def hold(place: Path, say: Say) -> None:
    """Entries, typed and heard; refused ones, each acknowledged when it is held; then all goes in, and more is entered."""
    entering._TRY_AGAIN_S = 0.02
    with Journal.open(place / "data") as journal:
        live = Live(journal)
        live.say(*BEFORE)
        _until(lambda: len(live.session.state.events) == 1 + len(BEFORE))
        _say_all(say, BEFORE)
        write = ExamStore._write
        ExamStore._write = _refuse  # type: ignore[method-assign, assignment]
        live.say(TALK)
        for number, line in enumerate(
            HELD, 2
        ):  # that something was said which is not for the log is held as well
            live.say(line)
            _until(lambda number=number: count_held(journal) == number)  # type: ignore[misc]
            say(line)
        ExamStore._write = write  # type: ignore[method-assign]
        live.say(*LATER)
        _until(lambda: not live.entering.busy and len(texts(journal, live.store.exam)) == 8)
        _say_all(say, LATER)
        live.end()


def judge_held(place: Path, said: list[str]) -> Iterator[str]:
    """All that was acknowledged is there once, in its order, with its sound; talk is nowhere, and nothing is held any more."""
    with Journal.open(place / "data") as journal:
        told = take_up(journal)
        yield from (each for each in told if "NOT ENTERED" in each)
        verdict = verify(journal)
        yield from map(str, (*verdict.faults, *verdict.missing_clips))
        live = [name for name in journal.names() if not journal.exam(name).started.reference]
        there = [each for exam in live for each in texts(journal, exam)]
        if there != [*BEFORE, *HELD, *LATER][: len(there)]:
            yield f"not as it was said: {there}"
        yield from (f"lost: {each}" for each in said if each not in there)
        if HeldFile.of(journal).path.exists():
            yield "still held"
    for path in place.rglob("*"):
        if path.is_file() and TALK.encode() in path.read_bytes():
            yield f"talk in {path.relative_to(place)}"
    yield from left_over(place)


def _refuse(*_: object) -> None:
    raise RecordBusyError("another process holds the record")


def _say_all(say: Say, lines: tuple[str, ...]) -> None:
    for line in lines:
        say(line)


def _until(done: Callable[[], bool]) -> None:
    while not done():
        time.sleep(0.001)
