"""The tour: its steps are commands that exist, it waits at a terminal alone, and touches nobody's record."""

import builtins
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.reading_grade import grade
from voicelog.cli import main, parsed, tour
from voicelog.demo import demo_audio


class Terminal:
    """Standard input of a person at a terminal."""

    def isatty(self) -> bool:
        return True


def without_recognition() -> tuple[tour.Step, ...]:
    """The steps with the sound left out; what they are to review is typed instead."""
    kept = replace(tour.STEPS[3], command=("type", "--reference", "TOUR"), typed=tour.STEPS[1].typed)
    return (*tour.STEPS[1:3], kept, *tour.STEPS[4:])


def test_every_step_is_a_command_with_arguments_that_it_takes() -> None:
    for step in tour.STEPS:
        assert callable(parsed(step.command).run), step.title


def test_without_a_terminal_it_goes_through_and_leaves_the_record_alone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(tour, "STEPS", without_recognition())
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "own"))

    assert main(["tour", "--all"]) == 0
    out, err = capfd.readouterr()

    places = [out.index(step.title) for step in without_recognition()]
    assert places == sorted(places)
    for shown in (
        "+0.75 -0.75 x 180",
        "true     +1.50",
        "logged   +1.50",
        "REFERRAL NOTE",
        "voicelog review",
    ):
        assert shown in out
    assert "plus or minus?" in err
    assert "kept: exam " in err
    assert not (tmp_path / "own").exists()


@pytest.mark.parametrize(("answers", "runs"), [(["q"], 0), (["", "", "q"], 2), ([], 0)])
def test_at_a_terminal_each_step_waits_for_enter(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], answers: list[str], runs: int
) -> None:
    ran: list[str] = []
    given = iter(answers)

    def answer(question: str) -> str:
        assert "Enter" in question
        try:
            return next(given)
        except StopIteration:
            raise EOFError from None

    monkeypatch.setattr(sys, "stdin", Terminal())
    monkeypatch.setattr(builtins, "input", answer)
    monkeypatch.setattr(tour, "_run", lambda step, environment: ran.append(step.title))

    assert main(["tour"]) == 0
    assert ran == [step.title for step in tour.STEPS[:runs]]
    assert "of 6. " in capsys.readouterr().out or not runs


def test_a_step_that_fails_ends_it_with_one_line(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(tour, "STEPS", (tour.Step("None", "Fails.", ("export", "none", "--format", "csv")),))

    assert main(["tour", "--all"]) == 2
    last = capfd.readouterr().err.splitlines()[-1]
    assert last == "voicelog: the step 'None' failed: voicelog export none --format csv"


def test_what_is_told_is_read_at_once() -> None:
    for step in tour.STEPS:
        assert grade(step.told) <= 9.0, step.told
        assert max(map(len, step.told.splitlines())) <= 96


@pytest.mark.sweep
def test_the_whole_tour(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "voicelog", "tour"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"VOICELOG_DATA": str(tmp_path / "own")},
    )

    assert done.stdout.count("right eye: +0.75 -1.25 x 035  (solved)") == 2
    assert f"voicelog replay {demo_audio().name} --reference TOUR" in done.stdout
    assert "Reference TOUR" in done.stdout
    assert not (tmp_path / "own").exists()
