"""Many who watch and ask: an entry is not held up, neither on its way into the log nor to those who watch."""

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.page.served import Served
from voicelog.exam.events import Line

SOCKETS = 50
REQUESTS_A_SECOND = 200
LIMIT_S = 0.200
LINES = ("right eye", "streak ninety with at plus one", "scratch that", "left eye")
ROOT = Path(__file__).parents[2]


def under_load(served: Served, seconds: float) -> tuple[dict[str, Any], list[float], list[float]]:
    """What the crowd saw; seconds of each entry: into the log, and from there to the last socket."""
    command = [sys.executable, "-m", "tests.page.crowd", served.server.origin, served.base, served.cookie]
    command += [str(SOCKETS), str(REQUESTS_A_SECOND)]
    entering: list[float] = []
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as crowd:
        assert crowd.stdout is not None
        assert crowd.stdout.readline() == "ready\n"
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s:
            before_s = time.monotonic()
            served.say(LINES[len(entering) % len(LINES)], source="typed")
            entering.append(time.monotonic() - before_s)
            time.sleep(0.25)
        time.sleep(0.5)
        seen = json.loads(crowd.communicate("", timeout=60)[0])
    events = [each for each in served.session.state.events if isinstance(each, Line)]
    shown = [
        max(arrived[str(each.number)] for arrived in seen["arrived"]) - each.at.timestamp() for each in events
    ]
    return seen, entering, shown


def check(served: Served, seconds: float) -> tuple[list[float], list[float]]:
    seen, entering, shown = under_load(served, seconds)
    print(
        f"{seen['answered']} answers in {seconds:g} s, worst {seen['worst_answer_s']:.3f} s; "
        f"{len(entering)} entries, logged within {max(entering):.3f} s, with all {SOCKETS} within {max(shown):.3f} s"
    )
    assert len(seen["arrived"]) == SOCKETS
    assert seen["statuses"] == [200]
    assert seen["answered"] >= 0.95 * seconds * REQUESTS_A_SECOND
    return entering, shown


def test_fifty_sockets_and_200_requests_a_second(served: Served) -> None:
    """Half of few entries: one stall of a machine that does other things too says nothing of the page."""
    entering, shown = check(served, 4.0)

    assert statistics.median(entering) <= LIMIT_S
    assert statistics.median(shown) <= LIMIT_S


@pytest.mark.sweep
def test_no_entry_is_held_up_for_a_minute(served: Served) -> None:
    entering, shown = check(served, 60.0)

    assert max(entering) <= LIMIT_S
    assert max(shown) <= LIMIT_S
