"""Kills programs that work on a record, at random moments, and looks at what the next start finds.

    python -m tests.record.killing KILLS [SEED [JOB ...]]

shares the kills among the jobs, the same for the same seed, and prints one JSON object a job and their sum. Each run is
a process of its own that is forked and killed (SIGKILL): nothing else may be going on in this one. `judge` then opens the
record as any start does, and says what is wrong: what was acknowledged and is gone, a fault that `verify` finds, or
anything that lies about and belongs to nothing.
"""

import json
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any, Final

from voicelog.record.journal import Journal

from . import killed_holding
from . import killed_jobs as jobs

LONGEST_S: Final = 30.0
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Job:
    """What is killed. `prepare` fills a folder that every run gets a copy of; `work` acknowledges by what it says."""

    name: str
    prepare: Callable[[Path], None]
    work: Callable[[Path, Say], None]
    judge: Callable[[Path, list[str]], Iterator[str]]


JOBS: Final = {
    job.name: job
    for job in (
        Job("append", jobs.some_exams, jobs.append, jobs.judge_added),
        Job("checkpoint", jobs.some_exams, jobs.append_and_fold, jobs.judge_added),
        Job("import", jobs.exports, jobs.import_all, jobs.judge_imported),
        Job("erase", jobs.backed_up, jobs.erase_two, jobs.judge_erased),
        Job("backup", jobs.some_exams, jobs.back_up, jobs.judge_backed_up),
        Job("restore", jobs.two_records, jobs.put_back, jobs.judge_restored),
        Job("take up", jobs.old_journal, jobs.take_up, jobs.judge_taken_up),
        Job("hold", killed_holding.warmed_up, killed_holding.hold, killed_holding.judge_held),
    )
}


@dataclass(slots=True)
class Result:
    """What came of the kills of one job: `within` is how many came before all was done."""

    job: str
    kills: int = 0
    within: int = 0
    acknowledged: int = 0
    faults: list[str] | None = None


def killed(job: Job, kills: int, seed: int, place: Path) -> Result:
    """Kill a job so many times."""
    random, result, kept = Random(f"{job.name} {seed}"), Result(job.name, faults=[]), place / "kept"
    job.prepare(kept)
    whole_s = min(_run(job, kept, place / "whole", LONGEST_S)[1] for _ in range(2))
    for kill in range(kills):
        run = place / f"run {kill}"
        said, took_s = _run(job, kept, run, random.uniform(0, whole_s))
        within = said[-1:] != [jobs.DONE]
        # A machine has more and less to do: the lives follow what the work takes now.
        whole_s = whole_s * 1.02 if within else took_s
        result.kills += 1
        result.within += within
        acknowledged = [each for each in said if each != jobs.DONE]
        result.acknowledged += len(acknowledged)
        try:
            found = [*job.judge(run, acknowledged)]
        except Exception as error:  # that the record cannot be opened is a finding, and the worst
            found = [f"{type(error).__name__}: {error}"]
        assert result.faults is not None
        result.faults += [f"kill {kill} after {len(acknowledged)} acknowledged: {each}" for each in found]
        if found and os.environ.get("KEEP_KILLED"):
            continue
        shutil.rmtree(run)
    return result


def _run(job: Job, kept: Path, run: Path, life_s: float) -> tuple[list[str], float]:
    """One life of so many seconds; what it acknowledged, and how long it took until all was done."""
    shutil.rmtree(run, ignore_errors=True)
    shutil.copytree(kept, run)
    reading, writing = os.pipe()
    started = time.monotonic()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            job.work(run, lambda text: _say(writing, text))
            os.write(writing, f"{jobs.DONE}\n".encode())
            signal.pause()
        finally:
            os._exit(1)
    os.close(writing)
    given = _read(reading, life_s)
    took_s = time.monotonic() - started
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        raise RuntimeError(f"{job.name} ended by itself: {given!r}")
    with os.fdopen(reading, "rb") as pipe:
        return (given + pipe.read()).decode().splitlines(), took_s


def _say(pipe: int, text: str) -> None:
    os.write(pipe, f"{text}\n".encode())


def _read(pipe: int, life_s: float) -> bytes:
    """What is said until the life is over, or all is done."""
    os.set_blocking(pipe, False)
    given, over = b"", time.monotonic() + life_s
    while time.monotonic() < over:
        try:
            given += os.read(pipe, 65536)
        except BlockingIOError:
            time.sleep(0.0005)
        if given.endswith(f"{jobs.DONE}\n".encode()):
            break
    os.set_blocking(pipe, True)
    return given


def main(kills: int, seed: int, *names: str) -> int:
    """All jobs; 1 where something is wrong."""
    chosen = [JOBS[name] for name in names or JOBS]
    results = []
    for index, job in enumerate(chosen):
        share = kills * (index + 1) // len(chosen) - kills * index // len(chosen)
        with TemporaryDirectory(prefix="killed-") as place:
            results.append(_as_dict(killed(job, share, seed, Path(place))))
        print(json.dumps(results[-1]), flush=True)
    total = {key: sum(each[key] for each in results) for key in ("kills", "within", "acknowledged")}
    faults = sum(len(each["faults"]) for each in results)
    print(json.dumps({"job": "all", **total, "faults": faults}))
    return int(faults > 0)


def _as_dict(result: Result) -> dict[str, Any]:
    return {name: getattr(result, name) for name in Result.__slots__}


__all__ = ["JOBS", "Job", "Journal", "Result", "killed"]

if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int((*sys.argv, "1")[2]), *sys.argv[3:]))
