"""The examiner's own judgement of neutrality, once it is set: errors are reckoned by it, and it is named."""

import pytest

from voicelog.exam.state import ExamState
from voicelog.record.export.refractions import uncertainty_basis
from voicelog.session import Session
from voicelog.settings import Settings

LINES = (
    "working distance 50",
    "right eye",
    "streak 90 neutral at +3",
    "streak 180 neutral at +2",
    "streak 90 with at +2.5",
)


def exam_by(neutrality_sd_d: float | None, *lines: str) -> tuple[ExamState, str]:
    """An exam with a setting, and what was answered last."""
    session = Session(Settings(neutrality_sd_d=neutrality_sd_d))
    replies = [session.type_line(line).reply for line in lines]
    return session.state, replies[-1]


def test_results_are_surer_with_a_surer_judgement() -> None:
    spreads = [exam_by(sd_d, *LINES)[0].eyes["right"].solution.uncertainty for sd_d in (0.1, None, 0.5)]

    sds_d = [spread.m_sd_d for spread in spreads if spread is not None]
    assert sds_d == sorted(sds_d)
    assert len(set(sds_d)) == 3
    # 50 cm held to 2 cm is 0.0816 D; of each reading a quarter step and the judgement (docs of ErrorModel).
    reading_sd_d = (0.25**2 / 12 + 0.1**2) ** 0.5
    assert sds_d[0] == pytest.approx((reading_sd_d**2 / 2 + (0.02 / 0.5**2) ** 2) ** 0.5, abs=0.01)


def test_what_does_not_fit_is_judged_by_it_too() -> None:
    """Four meridians, and the fourth 1.00 D from what the others make: no lens fits a sure judgement, an unsure one does."""
    fan = ("working distance 50", "right eye", *(f"streak {angle} neutral at +2" for angle in (90, 180, 45)))

    assert exam_by(0.05, *fan, "streak 135 neutral at +3")[0].eyes["right"].status == "conflict"
    assert exam_by(0.6, *fan, "streak 135 neutral at +3")[0].eyes["right"].status == "solved"


def test_it_is_named_where_it_counts() -> None:
    state, told = exam_by(0.18, *LINES, "what do all the looks say")

    assert "neutral judged to 0.18 D, as in your own exams" in told
    assert "0.18 D (the examiner's own exams)" in uncertainty_basis(state.writing)[1]
    other, told = exam_by(None, *LINES, "what do all the looks say")
    assert "own exams" not in told
    assert "0.26 D (one published study)" in uncertainty_basis(other.writing)[1]
