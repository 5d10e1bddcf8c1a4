"""The dictated demo exam from its audio, through the real recogniser, to both refractions."""

import json
from typing import Any

import pytest

from tests.conftest import DemoRun
from tests.corpora.demo_scenario import TRUTH
from voicelog.cli import main


@pytest.mark.parametrize("eye", ["right", "left"])
def test_both_refractions_equal_the_scenario(demo_run: DemoRun, eye: str) -> None:
    assert_solved(demo_run.exam, eye)


def test_the_letters_alone_solve_both(capsys: pytest.CaptureFixture[str]) -> None:
    """Without the judge: the package that it comes in could go."""
    assert main(["demo", "--json", "--policy", "single"]) == 0

    exam = json.loads(capsys.readouterr().out)
    for eye in TRUTH:
        assert_solved(exam, eye)


def assert_solved(exam: Any, eye: str) -> None:
    truth = TRUTH[eye]
    found = exam["eyes"][eye]

    assert found["status"] == "solved"
    assert (found["net"]["sphere"], found["net"]["cylinder"], found["net"]["axis"]) == (
        truth.sphere_d,
        truth.cylinder_d,
        truth.axis_deg,
    )


def test_the_correction_and_the_withdrawal_were_obeyed(demo_run: DemoRun) -> None:
    states = [row["state"] for row in demo_run.exam["ledger"]]

    assert states.count("corrected") == 1
    assert states.count("withdrawn") == 1


def test_other_talk_is_left_out(demo_run: DemoRun) -> None:
    """Nine lines of the patient and the assistant; none is entered or asked about."""
    assert [entry["outcome"] for entry in demo_run.exam["entries"]].count("ignored") >= 9
    assert [entry["text"] for entry in demo_run.exam["entries"] if entry["outcome"] == "asked"] == []
