"""The audit of exams in the record: which eyes are paired, and what the command says."""

import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from voicelog.cli import main
from voicelog.errors import VoicelogError
from voicelog.page.auditing import audit_view
from voicelog.page.listed import Sought
from voicelog.record.auditing import audit
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal

from .cases import MORNING, dictated


def eye(name: str, sphere_d: float, refined: str, distance: str = "50") -> tuple[str, ...]:
    """Two meridians neutral with one sphere, and a subjective result."""
    power = f"{sphere_d:+.2f}"
    return (
        f"working distance {distance}",
        f"{name} eye",
        f"streak 90 neutral {power}",
        f"streak 180 neutral {power}",
        f"refined {refined}",
    )


def records(journal: Journal, *exams: Sequence[str], at: datetime = MORNING) -> list[tuple[str, ExamRecord]]:
    stores = [
        dictated(journal, lines, at=at + timedelta(days=20 * number))[0] for number, lines in enumerate(exams)
    ]
    return [(each.exam, journal.exam(each.exam)) for each in stores]


def test_eyes_with_both_results_are_paired(journal: Journal) -> None:
    """50 cm takes 2.00 D off: +1.00 in the frame is -1.00, refined -1.25, so a quarter of a dioptre too plus."""
    both = (*eye("right", 1.00, "-1.25"), *eye("left", 1.00, "-1.00"))
    without = eye("right", 1.00, "-1.25")[:-1]

    found = audit(records(journal, both, without, eye("left", 0.50, "-1.50")))

    assert (found.exams_seen, found.exams) == (3, 2)
    assert [(each.eye, each.apart.m_d) for each in found.pairs] == [
        ("right", 0.25),
        ("left", 0.0),
        ("left", 0.0),
    ]
    assert found.agreement["m"] is not None
    assert found.agreement["m"].bias == pytest.approx(0.0625)
    assert [(each.month, each.exams) for each in found.months] == [("2025-11", 1), ("2026-01", 1)]
    assert found.distance is not None
    assert found.distance.bias_m < 0, "too plus is too near"


def test_wet_and_dry_are_apart_and_contradictions_left_out(journal: Journal) -> None:
    wet = ("drops cyclopentolate 1% both", *eye("right", 2.00, "-1.00"))
    against = (*eye("right", 1.00, "-1.00"), "streak 90 with +3.00")

    exams = records(journal, wet, against)

    assert [each.apart.m_d for each in audit(exams, "wet").pairs] == [1.0]
    assert audit(exams, "dry").pairs == ()


def test_passes_tell_the_examiners_own_scatter(journal: Journal) -> None:
    """Passes at -1.00 and -0.75 (M differs by 0.25): standard deviation 0.25 / sqrt 2; too few for an own error model."""
    lines = (*eye("right", 1.00, "-1.00"), "next pass", "streak 90 neutral +1.25", "streak 180 neutral +1.25")

    found = audit(records(journal, lines))

    assert found.repeats is not None
    assert found.repeats.m_sd_d == pytest.approx(0.1768, abs=0.0001)
    assert found.own_errors is None


def test_the_command_in_words_and_as_data(
    monkeypatch: pytest.MonkeyPatch, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(folder))
    with Journal.open() as journal:
        records(journal, eye("right", 1.00, "-1.25"), eye("right", 1.00, "-1.50"), eye("left", 1.00, "-1.25"))

    assert main(["audit"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("3 of 3 exams with dry retinoscopy and refined result: 3 eyes\nM: bias +0.33 D")
    assert "nearer than said" in said
    assert "does not say which of the two is right" in said

    assert main(["audit", "--until", "2025-11-30", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["exams"], data["agreement_d"]["m"]) == (1, None)
    assert data["pairs"][0]["difference_d"] == {"m": 0.25, "j0": 0.0, "j45": 0.0}


def test_an_empty_record_has_nothing_to_audit(
    monkeypatch: pytest.MonkeyPatch, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(folder))

    assert main(["audit"]) == 0
    assert "they need two exams or more" in capsys.readouterr().out


def test_the_page_draws_each_eye_where_its_mean_and_difference_lie(journal: Journal) -> None:
    """Three eyes of retinoscopy -1.00, refined -1.25, -1.50 and -1.25: differences 0.25, 0.50 and 0.25 D."""
    records(journal, eye("right", 1.00, "-1.25"), eye("right", 1.00, "-1.50"), eye("left", 1.00, "-1.25"))

    shown = audit_view(journal, Sought(), "dry")

    assert shown.lines[0].startswith("3 of 3 exams")
    assert [name for name, _ in shown.plots] == ["M", "J0", "J45"]
    plot = shown.plots[0][1]
    told = [sign.says.partition(": ")[2] for sign in plot.signs]
    assert sorted(told) == ["+0.25 D at -1.12 D", "+0.25 D at -1.12 D", "+0.50 D at -1.25 D"]
    first, second = (
        next(sign for sign in plot.signs if f"at {mean}" in sign.says) for mean in ("-1.25", "-1.12")
    )
    assert first.x < second.x, "more minus is further left"
    assert first.y < second.y, "a larger difference is higher"
    # The zero of the differences by the marks of the axis, and the bias of a third of a dioptre above it.
    heights = {tick.text: tick.at for tick in plot.y_ticks}
    bias = float(plot.curve.split()[1])
    assert (heights["0.00"] - bias) / (heights["0.00"] - second.y) == pytest.approx((1 / 3) / 0.25, abs=0.02)


def test_the_page_says_what_is_no_day(journal: Journal) -> None:
    with pytest.raises(VoicelogError, match="write a day as"):
        audit_view(journal, Sought(since="yesterday"), "dry")
