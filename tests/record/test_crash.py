"""Programs killed with SIGKILL at random moments: what was acknowledged is there, the record fits, nothing lies about."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent


def killed(runs: int, place: Path) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, str(HERE / "crash_driver.py"), str(runs), "1", str(place)],
        capture_output=True,
        text=True,
        timeout=1200,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    print(done.stdout)
    return json.loads(done.stdout)  # type: ignore[no-any-return]


def check(found: dict[str, Any], runs: int) -> None:
    assert found["runs"] == runs
    assert found["faults"] == []
    assert found["lost"] == []
    assert found["most_unacknowledged"] <= 1
    # The kills did come in the middle of the work, or this proves nothing.
    assert found["acknowledged"] > runs


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork, which this platform has not")
def test_nothing_acknowledged_is_lost_by_a_kill(tmp_path: Path) -> None:
    check(killed(12, tmp_path), 12)


@pytest.mark.sweep
def test_nothing_acknowledged_is_lost_by_200_kills(tmp_path: Path) -> None:
    found = killed(200, tmp_path)

    check(found, 200)
    assert found["killed_before_answer"] + found["killed_in_clip"] > 0


@pytest.mark.sweep
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork, which this platform has not")
def test_1050_kills_of_all_that_writes_leave_nothing_lost_and_nothing_over() -> None:
    """Adding, folding, import, erasing, backup, restore, the taking up of old journals, and of what a record refused."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.record.killing", "1050", "1"],
        cwd=HERE.parents[1],
        capture_output=True,
        text=True,
        timeout=7200,
        check=False,
    )
    print(done.stdout)
    *jobs, total = map(json.loads, done.stdout.splitlines())

    assert [fault for job in jobs for fault in job["faults"]] == []
    assert done.returncode == 0, done.stderr
    assert total["kills"] == 1050
    # Most came while there was something to be cut short, or this proves little.
    assert total["within"] > 700
