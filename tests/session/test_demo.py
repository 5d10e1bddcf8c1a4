"""The dictated demo exam from its audio, through the real recogniser, to both refractions."""

import json

import pytest

from tests.corpora.demo_scenario import TRUTH
from voicelog.cli import main


@pytest.fixture(scope="module", name="demo")
def _demo(tmp_path_factory: pytest.TempPathFactory) -> dict:  # type: ignore[type-arg]
    import contextlib
    import io

    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        assert main(["demo", "--json"]) == 0
    return json.loads(printed.getvalue())  # type: ignore[no-any-return]


@pytest.mark.parametrize("eye", ["right", "left"])
def test_both_refractions_equal_the_scenario(demo: dict, eye: str) -> None:  # type: ignore[type-arg]
    truth = TRUTH[eye]
    found = demo["eyes"][eye]

    assert found["status"] == "solved"
    assert (found["net"]["sphere"], found["net"]["cylinder"], found["net"]["axis"]) == (
        truth.sphere_d,
        truth.cylinder_d,
        truth.axis_deg,
    )


def test_the_correction_and_the_withdrawal_were_obeyed(demo: dict) -> None:  # type: ignore[type-arg]
    states = [row["state"] for row in demo["ledger"]]

    assert states.count("corrected") == 1
    assert states.count("withdrawn") == 1


def test_other_talk_is_left_out(demo: dict) -> None:  # type: ignore[type-arg]
    """Nine lines of the patient and the assistant; none is entered or asked about."""
    assert [entry["outcome"] for entry in demo["entries"]].count("ignored") >= 9
    assert [entry["text"] for entry in demo["entries"] if entry["outcome"] == "asked"] == []
