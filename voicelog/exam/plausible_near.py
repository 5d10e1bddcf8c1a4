"""Near findings that cannot be entered as they were said: no arm reaches that far, or no eye does that."""

from voicelog.exam import wording
from voicelog.exam.events import Question
from voicelog.exam.state import ExamState
from voicelog.optics import nott_lag_d
from voicelog.phrases import meanings as say

# Targets are held at reading distance, the retinoscope at most somewhat behind them (common practice, no source).
LEAST_CM, GREATEST_TARGET_CM, GREATEST_NEUTRAL_CM = 10.0, 100.0, 200.0
GREATEST_LAG_D = 3.0  # more than the demand of a target at 33 cm; our choice, no source


def near_doubt(_: ExamState, meaning: say.Meaning) -> Question | None:
    """The first thing to ask about a near finding before it can be entered; None when there is nothing."""
    match meaning.entry if isinstance(meaning, say.Correction) else meaning:
        case say.Dynamic() as measured:
            return _dynamic(measured, meaning)
        case say.Estimate(power=power):
            return _lag(power.dioptres, f"an estimate of {wording.power(power)}", meaning)
        case _:
            return None


def _dynamic(measured: say.Dynamic, meaning: say.Meaning) -> Question | None:
    for what, value, greatest in (
        ("the target", measured.target_cm, GREATEST_TARGET_CM),
        ("neutral", measured.neutral_cm, GREATEST_NEUTRAL_CM),
    ):
        if not LEAST_CM <= value <= greatest:
            text = f"{what} at {value:g} cm is not within {LEAST_CM:g} to {greatest:g} cm: say it again"
            return Question(missing="repeat", text=text)
    lag = nott_lag_d(measured.target_cm / 100, measured.neutral_cm / 100)
    return _lag(lag, f"a {'lead' if lag < 0 else 'lag'} of {abs(lag):.2f} D", meaning)


def _lag(lag_d: float | None, what: str, meaning: say.Meaning) -> Question | None:
    if lag_d is None or abs(lag_d) <= GREATEST_LAG_D:
        return None
    return Question(missing="confirm", text=f"{what} is unusual: is it right?", candidate=meaning)
