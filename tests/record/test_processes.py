"""Several programs on one record at the same time."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from voicelog.record.journal import Journal
from voicelog.record.verifying import verify

HERE = Path(__file__).parent
LONGEST_WAIT_S = 5.0


def written_together(
    folders: list[Path], server: str | None, exams: int, events: int
) -> list[dict[str, Any]]:
    """What each of several programs, begun at the same moment, says of its work."""
    writers = [
        subprocess.Popen(
            [
                sys.executable,
                "-m",
                "tests.record.writer_driver",
                str(folder),
                server or "",
                str(exams),
                str(events),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONPATH": os.pathsep.join([str(HERE.parents[1]), *sys.path])},
        )
        for folder in folders
    ]
    found = []
    for writer in writers:
        printed, error = writer.communicate(timeout=120)
        assert writer.returncode == 0, error
        found.append(json.loads(printed))
    return found


def check(journal: Journal, found: list[dict[str, Any]], exams: int, events: int) -> None:
    verdict = verify(journal)

    assert verdict.faults == ()
    assert (verdict.exams, verdict.events) == (exams * len(found), exams * events * len(found))
    for each in found:
        assert len(each["acknowledged"]) == exams * events
        assert each["longest_s"] < LONGEST_WAIT_S
        for exam, number in each["acknowledged"]:
            assert journal.rows(exam)[number].number == number


def test_programs_share_a_file(folder: Path) -> None:
    """They also make the file together: it is not there when they begin."""
    found = written_together([folder] * 2, None, exams=8, events=5)

    with Journal.open(folder) as journal:
        check(journal, found, 8, 5)


@pytest.mark.parametrize("exams", [10, pytest.param(30, marks=pytest.mark.sweep)])
def test_a_reader_sees_a_steady_record_while_others_write(folder: Path, exams: int) -> None:
    with Journal.open(folder) as journal:
        writer = subprocess.Popen(
            [sys.executable, "-m", "tests.record.writer_driver", str(folder), "", str(exams), "4"],
            stdout=subprocess.DEVNULL,
            env=os.environ | {"PYTHONPATH": os.pathsep.join([str(HERE.parents[1]), *sys.path])},
        )
        looks = 0
        while writer.poll() is None:
            assert verify(journal).faults == ()
            looks += 1
        assert writer.returncode == 0
        assert looks > 1
        assert verify(journal).events == 4 * exams
