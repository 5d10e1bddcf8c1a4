"""SIGKILL in the middle of a live exam takes at most the utterance that was being spoken."""

import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.corpora.demo_scenario import script
from tests.live.test_capture_exam import meant
from voicelog.exam.events import Line
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify

PATIENCE_S = 60.0


def killed_after(kill: "Kill", folder: Path) -> int:
    """Kill a live exam so long after it showed the event of that number; the number of the last that it showed."""
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.live.killed_child", kill.pace],
        cwd=Path(__file__).parents[2],
        env=os.environ | {"VOICELOG_DATA": str(folder)},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    shown = [0]
    for line in child.stdout:
        shown.append(int(line))
        if shown[-1] >= kill.event:
            break
    time.sleep(kill.delay_s)
    child.kill()
    assert child.wait(PATIENCE_S) < 0, "it ended by itself"
    shown += [int(line) for line in child.stdout]
    child.stdout.close()
    return shown[-1]


@dataclass(frozen=True)
class Kill:
    """Real pace kills within an utterance, fast pace within recognition or in the middle of keeping it."""

    event: int
    delay_s: float
    pace: str


KILLS = (Kill(8, 0.05, "fast"), Kill(1, 1.8, "real"))


@pytest.fixture(scope="module", name="killed")
def _killed(tmp_path_factory: pytest.TempPathFactory) -> dict[Kill, tuple[int, Path]]:
    """For each kill the last event that was shown, and the record that was left: all run side by side."""
    folders = [tmp_path_factory.mktemp("killed") for _ in KILLS]
    with ThreadPoolExecutor(len(KILLS)) as pool:
        shown = pool.map(killed_after, KILLS, folders)
        return {kill: (last, folder) for kill, last, folder in zip(KILLS, shown, folders, strict=True)}


@pytest.mark.parametrize("kill", KILLS, ids=str)
def test_a_killed_exam_loses_at_most_the_utterance_under_way(
    kill: Kill, killed: dict[Kill, tuple[int, Path]]
) -> None:
    shown, folder = killed[kill]

    with Journal.open(folder) as journal:
        verdict = verify(journal)
        record = journal.exam(journal.find("last"))
    said = [each for each in record.events if isinstance(each, Line)]
    entered: list[Any] = [
        meaning.model_dump(mode="json")
        for each in said
        if each.outcome == "accepted"
        for meaning in each.meanings
    ]
    wanted = meant(*(line.text for line in script() if line.role == "examiner"))

    assert not verdict.faults
    assert not verdict.missing_clips
    assert shown <= len(said) <= shown + 1, "an event that was shown is gone, or more than one was not shown"
    assert entered == wanted[: len(entered)]
