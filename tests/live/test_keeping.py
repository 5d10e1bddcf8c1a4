"""What is kept of a live exam, what keeps it from starting, and how one that was broken off goes on."""

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from tests.english import load
from tests.live.test_exam_from_file import TWO_PHRASES, Script
from tests.session.test_session import hearing
from voicelog.cli import exam, main
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.record import under_way
from voicelog.record.acts import amendment, attestation
from voicelog.record.clips import Clips
from voicelog.record.events import RecordEvent
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal
from voicelog.record.places import data_folder
from voicelog.session import Session

FROM_FILE = ("exam", "--source", str(TWO_PHRASES), "--pace", "fast", "--no-open")


def scripted(monkeypatch: pytest.MonkeyPatch, *phrases: str) -> None:
    monkeypatch.setattr(exam, "chosen_engine", lambda *_: Script(*phrases))


def kept_exams() -> list[str]:
    with Journal.open() as journal:
        return list(journal.names())


def test_an_exam_without_an_entry_is_not_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    scripted(monkeypatch, "look at the far letter please", "stop listening")
    assert main(FROM_FILE) == 0
    assert kept_exams() == []

    scripted(monkeypatch, "look at the far letter please", "right eye")
    assert main(FROM_FILE) == 0
    (name,) = kept_exams()
    with Journal.open() as journal:
        assert [event.number for event in journal.exam(name).events] == [0, 1, 2]


def test_an_exam_that_cannot_be_kept_does_not_start_unless_that_is_wanted(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    in_the_way = tmp_path / "data"
    in_the_way.write_text("a file where the folder should be", encoding="utf-8")
    monkeypatch.setenv("VOICELOG_DATA", str(in_the_way))
    scripted(monkeypatch, "right eye", "left eye")

    assert main(FROM_FILE) == 2
    printed = capsys.readouterr()
    assert "--no-record" in printed.err
    assert len([line for line in printed.err.splitlines() if line.startswith("voicelog: ")]) == 1
    assert printed.out == ""

    assert main([*FROM_FILE, "--no-record", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["entries"]) == 2


def test_an_old_exam_that_cannot_be_read_keeps_no_new_one_from_starting(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its sound is due to go, so it is read at the start; it stays, and that is said."""
    with Journal.open() as journal:
        begun = datetime.now(UTC) - timedelta(days=40)
        store = journal.begin(begun)
        old = Session(store=store, now=lambda: begun)
        old.type_line("right eye")
        Clips(data_folder() / "clips", 30).keep(store.exam, hearing_sound())
        with journal.database.engine.begin() as connection:
            for (trigger,) in connection.exec_driver_sql(
                "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            ).fetchall():
                connection.exec_driver_sql(f"DROP TRIGGER {trigger}")
            connection.exec_driver_sql("UPDATE event SET body = '{' WHERE number = 1")
    scripted(monkeypatch, "right eye", "left eye")

    assert main(FROM_FILE) == 0

    assert "old sound was not removed" in capsys.readouterr().err
    assert len(kept_exams()) == 2


def hearing_sound() -> "np.ndarray[tuple[int], np.dtype[np.float32]]":
    return np.zeros(1600, np.float32)


def test_without_portaudio_nothing_is_opened_and_nothing_kept(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def missing(name: str) -> ModuleType:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return import_module(name)

    monkeypatch.setattr(importlib, "import_module", missing)
    scripted(monkeypatch)

    assert main(["exam", "--no-open"]) == 3

    printed = capsys.readouterr()
    assert "libportaudio2" in printed.err
    assert "page:" not in printed.err
    assert kept_exams() == []


def a_process_that_has_ended() -> int:
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    return child.pid


def broken_off(*lines: str) -> str:
    """An exam that was under way when its process was killed."""
    with Journal.open() as journal:
        store = journal.begin()
        session = Session(store=store)
        for line in lines:
            session.take_heard(hearing(line))
    under_way.begin(store.exam)
    place = data_folder() / "under-way.json"
    note = json.loads(place.read_text(encoding="utf-8"))
    place.write_text(json.dumps(note | {"process": a_process_that_has_ended()}), encoding="utf-8")
    return store.exam


def test_an_exam_that_was_broken_off_is_offered_and_goes_on_where_it_was(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    name = broken_off("left eye", "streak vertical neutral at plus one")
    scripted(monkeypatch, "streak horizontal neutral at plus two", "stop listening")

    assert main([*FROM_FILE, "--continue", "--json"]) == 0

    found = json.loads(capsys.readouterr().out)
    assert [each["gross"] for each in found["eyes"]["left"]["readings"]] == [1.0, 2.0]
    assert kept_exams() == [name]
    with Journal.open() as journal:
        assert len(journal.exam(name).events) == 5

    # It came to its end, so it is not offered again.
    assert main([*FROM_FILE, "--continue"]) == 2
    assert "no exam was broken off" in capsys.readouterr().err


def test_a_start_offers_what_was_broken_off_and_begins_a_new_exam(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    name = broken_off("left eye", "streak vertical neutral at plus one")
    scripted(monkeypatch, "right eye", "streak vertical neutral at plus three")

    assert main(FROM_FILE) == 0

    assert "1 reading; --continue goes on with it" in capsys.readouterr().err
    assert len(kept_exams()) == 2
    with Journal.open() as journal:
        assert len(journal.exam(name).events) == 3


class Amending(Script):
    """Puts the first reading right from elsewhere before it hears the last phrase, as another process may."""

    def __init__(self, *phrases: str, by: Callable[[ExamRecord], RecordEvent]) -> None:
        super().__init__(*phrases)
        self._last, self._by = phrases[-1], by

    def hear(self, samples: Samples, rule: str) -> Hearing:
        found = super().hear(samples, rule)
        if found.free_text == self._last:
            with Journal.open() as journal:
                record = journal.exam(journal.find("last"))
                if not record.amendments and record.attested is None:
                    journal.reopen(journal.find("last")).append(self._by(record))
        return found


def amended(record: ExamRecord) -> RecordEvent:
    return amendment(
        record,
        datetime.now(UTC),
        by="MK",
        reason="misheard",
        entry="1.2",
        phrase="streak vertical neutral at plus two",
        grammar=load(),
    )


def test_what_is_amended_meanwhile_is_taken_in_and_the_exam_goes_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    engine = Amending(
        "right eye streak vertical neutral at plus one", "streak horizontal neutral at plus three", by=amended
    )
    monkeypatch.setattr(exam, "chosen_engine", lambda *_: engine)

    assert main([*FROM_FILE, "--json"]) == 0

    printed = capsys.readouterr()
    readings = json.loads(printed.out)["eyes"]["right"]["readings"]
    assert [each["gross"] for each in readings] == [2.0, 3.0]
    assert "changed from elsewhere" in printed.err
    (name,) = kept_exams()
    with Journal.open() as journal:
        assert [each.number for each in journal.exam(name).events] == [0, 1, 2, 3]


def test_an_exam_that_is_attested_meanwhile_takes_nothing_more_and_says_why(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    engine = Amending(
        "right eye",
        "left eye",
        by=lambda record: attestation(record, datetime.now(UTC), by="MK", despite_open_points=True),
    )
    monkeypatch.setattr(exam, "chosen_engine", lambda *_: engine)

    assert main([*FROM_FILE, "--json"]) == 0

    told = capsys.readouterr().err
    assert "NOT ENTERED: left eye (the exam was attested by MK" in told


def test_what_still_runs_is_not_broken_off() -> None:
    assert under_way.broken_off() is None
    under_way.begin("20260101-abcdefgh")
    assert under_way.broken_off() is None
    assert under_way.UnderWay("20260101-abcdefgh", os.getppid()).runs
    assert not under_way.UnderWay("20260101-abcdefgh", a_process_that_has_ended()).runs
    under_way.end()
    assert under_way.broken_off() is None
