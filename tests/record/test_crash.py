"""A writer killed with SIGKILL at random moments: every acknowledged entry is there and the chain fits."""

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
