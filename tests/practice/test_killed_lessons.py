"""A learner's week whose lessons are killed (SIGKILL) on the way: what was done before stays, and it goes on."""

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from tests.practice.test_progress import lesson, store
from voicelog.practice.progress import kept, progress_path
from voicelog.practice.summing import summed_up

WAIT_S = 60.0
KEEPER = """
import sys
from voicelog.practice.progress import keep
from voicelog.practice.results import LessonResult
result = LessonResult.model_validate_json(sys.stdin.readline())
while True:
    keep(result)
    print("kept", flush=True)
"""


@contextmanager
def child(*command: str) -> Iterator["subprocess.Popen[str]"]:
    """A program of ours with open ends; killed at the latest when the test is over."""
    with subprocess.Popen(
        [sys.executable, *command],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def type_into(process: "subprocess.Popen[str]", *lines: str, until: str) -> None:
    """Type lines and read what comes back, up to a text."""
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("".join(f"{line}\n" for line in lines))
    process.stdin.flush()
    ends = time.monotonic() + WAIT_S
    told = ""
    while until not in told:
        assert time.monotonic() < ends, told
        read = process.stdout.readline()
        assert read, told
        told += read


def test_a_lesson_that_is_killed_is_not_kept_and_the_week_goes_on() -> None:
    """Three lessons, a fourth killed in its middle, then the fourth again, through the command."""
    before = tuple(lesson(number) for number in range(3))
    store(progress_path(), before)
    options = ("-m", "voicelog", "practice", "--kind", "spheres", "--seed", "1", "--distance", "50")

    with child(*options) as process:
        type_into(process, "right eye", "streak vertical", until="log: entered: right eye")
        process.kill()
        assert process.wait(WAIT_S) != 0
    assert kept().lessons == before

    with child(*options) as process:
        type_into(process, "right eye", "streak vertical", "done", until="true ")
        process.wait(WAIT_S)
    after = kept()
    assert after.lessons[:3] == before
    assert (len(after.lessons), after.unread) == (4, 0)
    assert summed_up(after.lessons)[0].lessons == 4


@pytest.mark.parametrize("lessons", [1, 5])
def test_a_kill_while_lessons_are_being_kept_loses_none_that_was_told(lessons: int) -> None:
    """Whoever was told "kept" finds it: killed at whatever byte the next one had come to."""
    done = lesson(3)

    with child("-c", KEEPER) as process:
        type_into(process, done.model_dump_json(), until="kept\n" * lessons)
        process.kill()
        process.wait(WAIT_S)
    found = kept()

    assert len(found.lessons) >= lessons
    assert set(found.lessons) == {done}
    assert found.unread <= 1
    store(progress_path(), (done,))
    assert len(kept().lessons) == len(found.lessons) + 1
