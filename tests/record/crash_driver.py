"""Kills a writer at random moments and looks at what is left; run by test_crash in a process of its own.

A process of its own, because each run forks: nothing else may be going on in it. Prints one JSON object.
"""

import json
import os
import shutil
import signal
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from voicelog.exam.entries import ENTRY
from voicelog.exam.events import Act, Heard, Line, Put, Started
from voicelog.record.clips import Clip
from voicelog.record.exam_store import ExamStore
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify

LONGEST_LIFE_S = 0.4
NEW_FOLDER_EVERY = 5  # runs; these may be killed while the tables are being made
EVENTS_AN_EXAM = 6
READING = {
    "kind": "reading",
    "eye": "right",
    "pass_number": 1,
    "condition": "dry",
    "meridian_deg": 180,
    "named": "streak",
    "motion": "neutral",
    "lenses": {"sphere_d": 1.25},
    "mirror": "plane",
    "allowance": {"distance_cm": 67},
}


def write_until_killed(folder: Path, acknowledge: int, random: Random) -> None:
    """Exam after exam; a line on `acknowledge` for every event whose append has returned."""
    with Journal.open(folder) as journal:
        while True:
            store = journal.begin()
            for number in range(EVENTS_AN_EXAM):
                store.append(_event(store, number, random))
                row = journal.rows(store.exam)[-1]
                os.write(acknowledge, f"{store.exam} {row.number} {row.hash}\n".encode())


def _event(store: ExamStore, number: int, random: Random) -> Started | Line:
    at = datetime.now(UTC)
    if number == 0:
        return Started(at=at, naming="streak", distance_cm=67)
    noise = np.frombuffer(random.randbytes(16000), np.int16) / 32768
    return _said(number, at, store.keep_clip(noise.astype(np.float32)))


def _said(number: int, at: datetime, clip: Clip) -> Line:
    entry = ENTRY.validate_python({"kind": "eye", "eye": "right"} if number == 1 else READING)
    heard = Heard(engine="none", score=None, margin=None, clip=clip.hash, clip_s=clip.length_s)
    return Line(
        number=number,
        at=at,
        source="voice",
        text="x",
        outcome="accepted",
        acts=(Act(changes=(Put(id=str(number), entry=entry),)),),
        heard=heard,
    )


def killed_run(folder: Path, random: Random, *, at_once: bool) -> list[str]:
    """One writer's life; the acknowledgements that it gave.

    It ends within one of its next appends, however long these take on a busy machine; with `at_once`, which also reaches
    the making of the tables, soon after its beginning.
    """
    reading, writing = os.pipe()
    writer = os.fork()
    if writer == 0:
        os.close(reading)
        try:
            write_until_killed(folder, writing, random)
        finally:
            os._exit(1)
    os.close(writing)
    given = b""
    longest_s = LONGEST_LIFE_S
    wanted = 0 if at_once else random.randint(1, EVENTS_AN_EXAM)
    while given.count(b"\n") < wanted:
        started = time.monotonic()
        more = os.read(reading, 4096)
        if not more:
            raise RuntimeError("the writer ended by itself")
        given += more
        longest_s = time.monotonic() - started
    time.sleep(random.uniform(0, longest_s))
    os.kill(writer, signal.SIGKILL)
    _, status = os.waitpid(writer, 0)
    if not os.WIFSIGNALED(status):
        raise RuntimeError("the writer ended by itself")
    with os.fdopen(reading, "rb") as pipe:
        return (given + pipe.read()).decode().splitlines()


def left_over(folder: Path, acknowledged: set[str], before: set[str]) -> dict[str, Any]:
    """What a run left: faults, acknowledged events that are gone, events nobody acknowledged, clips without event."""
    with Journal.open(folder) as journal:
        verdict = verify(journal)
        rows = {
            f"{row.exam} {row.number} {row.hash}" for each in _exams(journal) for row in journal.rows(each)
        }
        named = {clip for each in _exams(journal) for clip in journal.exam(each).clips}
    files = {path.name for path in folder.glob("clips/*/*")}
    return {
        "faults": [str(fault) for fault in (*verdict.faults, *verdict.missing_clips)],
        "lost": sorted(acknowledged - rows),
        "unacknowledged": len(rows - acknowledged - before),
        "spare_clips": len({name.removesuffix(".flac") for name in files} - named),
        "rows": rows,
    }


def _exams(journal: Journal) -> list[str]:
    with journal.database.reading() as connection:
        return list(connection.exec_driver_sql("SELECT id FROM exam").scalars())


def main(runs: int, seed: int, place: Path) -> None:
    """All runs, and their sum."""
    total: dict[str, Any] = {"faults": [], "lost": [], "runs": 0, "acknowledged": 0, "most_unacknowledged": 0}
    total |= {"killed_before_answer": 0, "killed_in_clip": 0}
    Journal.open(place / "warm").close()  # what is loaded once is loaded before the first kill
    acknowledged: set[str] = set()
    before: set[str] = set()
    spare = 0
    for run in range(runs):
        folder = place / str(run // NEW_FOLDER_EVERY)
        if run % NEW_FOLDER_EVERY == 0:
            shutil.rmtree(place / str(run // NEW_FOLDER_EVERY - 1), ignore_errors=True)
            acknowledged, before, spare = set(), set(), 0
        given = killed_run(folder, Random(seed + run), at_once=run % NEW_FOLDER_EVERY == 0)
        acknowledged |= set(given)
        found = left_over(folder, acknowledged, before)
        total["runs"] += 1
        total["acknowledged"] += len(given)
        total["faults"] += found["faults"]
        total["lost"] += found["lost"]
        total["most_unacknowledged"] = max(total["most_unacknowledged"], found["unacknowledged"])
        total["killed_before_answer"] += found["unacknowledged"]
        total["killed_in_clip"] += found["spare_clips"] > spare
        before, spare = found["rows"], found["spare_clips"]
    print(json.dumps(total))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3]))
