"""What several tests of the record need: a dictated exam, and a way past the program to the file itself."""

import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from voicelog.exam.entries import BaseFinding
from voicelog.exam.events import Heard, Line
from voicelog.exam.ledger import Ledger, Row
from voicelog.record.clips import Clip
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal
from voicelog.record.storing import NotKeptError
from voicelog.session import Session
from voicelog.settings import Settings

# Two eyes, two techniques, a correction and a withdrawal; every line is a phrase of the grammar.
# Right: domain.md section 0c, third row; left: the fourth row (published exam questions, working distance 2/3 m).
EXAM = (
    "working distance sixty seven",
    "right eye",
    "streak one twenty neutral at minus two",
    "correction minus one",
    "streak thirty neutral at plus one half",
    "left eye",
    "streak vertical neutral with sphere plus two and a quarter",
    "streak horizontal neutral with cylinder minus two fifty axis one eighty",
    "scissors",
    "scratch that",
)
RIGHT, LEFT = "-1.00 -1.50 x 120", "+0.75 -2.50 x 180"
MORNING = datetime(2025, 11, 25, 8, 15, tzinfo=UTC)
NOON = datetime(2025, 11, 25, 12, 0, tzinfo=UTC)


def dictated(
    journal: Journal, lines: Sequence[str] = EXAM, reference: str = "", at: datetime | None = None
) -> tuple[ExamStore, Session]:
    """An exam typed line by line into a journal, a second apart; at the present time when none is named."""
    store = journal.begin(at)
    times = None if at is None else clock(at)
    session = Session(
        Settings(naming="streak"),
        store=store,
        reference=reference,
        now=lambda: datetime.now(UTC) if times is None else next(times),
    )
    for line in lines:
        session.type_line(line)
    return store, session


@contextmanager
def not_kept(reason: type[Exception], match: str | None = None) -> Iterator[None]:
    """A session says that the record refused what is said here, and why."""
    with pytest.raises(NotKeptError, match=match) as raised:
        yield
    assert isinstance(raised.value.__cause__, reason)


@contextmanager
def copied(kept: Path, folder: Path) -> Iterator[Journal]:
    """A record that was made once for several tests, in a folder of the test's own."""
    shutil.copytree(kept, folder)
    with Journal.open(folder) as journal:
        yield journal


def clock(at: datetime) -> Iterator[datetime]:
    """Times a second apart."""
    while True:
        yield at
        at += timedelta(seconds=1)


def heard_words(store: ExamStore, text: str, at: datetime, clip: Clip | None = None) -> Line:
    """An event as from a microphone, with the clip it names."""
    sound = Heard(engine="none", score=-1.5, margin=2.0)
    if clip is not None:
        sound = sound.model_copy(update={"clip": clip.hash, "clip_s": clip.length_s})
    number = 0 if store.record is None else store.record.next_number
    return Line(number=number, at=at, source="voice", text=text, outcome="ignored", heard=sound)


def with_findings(record: ExamRecord, *entries: BaseFinding) -> ExamRecord:
    """An exam as if these had been entered after its last event: of kinds too that its program does not have."""
    state, number = record.state, record.next_number
    standing, rows = state.standing, dict(state.ledger.rows)
    for more, entry in enumerate(entries, start=1):
        name = f"{number}.{more}"
        standing = replace(standing, findings=standing.findings.after(name, entry))
        rows[name] = Row(name, entry, entry)  # type: ignore[arg-type]
    ledger = Ledger(rows, state.ledger.done, state.ledger.undone)
    return replace(record, state=replace(state, standing=standing, ledger=ledger))


@contextmanager
def past_the_program(path: Path, *, triggers: bool = False) -> Iterator[sqlite3.Connection]:
    """The file as somebody else's program opens it; without `triggers`, the guards are taken off."""
    with closing(sqlite3.connect(path)) as connection:
        if not triggers:
            names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
            kept = connection.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
            for (name,) in names:
                connection.execute(f"DROP TRIGGER {name}")
        with connection:
            yield connection
        if not triggers:
            for (sql,) in kept:
                connection.execute(sql)
            connection.commit()
