"""Limits are chosen for the fewest questions at a stated rate of silent errors, on the tuning half alone."""

import json
import tomllib
from dataclasses import asdict, replace
from pathlib import Path
from random import Random

import pytest

from tests.english import load
from tests.measuring.made_up import LIMITS, heard, phrase, talk
from voicelog.cli import parsed
from voicelog.hearing.decision import default_limits
from voicelog.measuring.choosing import STEPS, Target, changed, choose, figures, in_order
from voicelog.measuring.counting import Case
from voicelog.measuring.errors import MeasuringError
from voicelog.measuring.limits_file import read_limits
from voicelog.measuring.selection import Selection

PLUS_TWO = "streak vertical neutral at plus two"
MINUS_TWO = "streak vertical neutral at minus two"


def cases(seed: int, speaker: str, count: int = 16) -> list[Case]:
    """Phrases with random scores; the lower the score and the margin, the more often wrong."""
    random = Random(seed)
    found = []
    for _ in range(count):
        score, margin = -random.uniform(0.0, 9.0), random.uniform(0.2, 6.0)
        wrong = (random.random() < 0.5 and score < -5.5) or (random.random() < 0.4 and margin < 1.2)
        best, other = (MINUS_TWO, PLUS_TWO) if wrong else (PLUS_TWO, MINUS_TWO)
        found.append(phrase(PLUS_TWO, heard((best, score), (other, score - margin)), speaker=speaker))
    return found


def test_silent_errors_are_kept_to_the_target_at_fewer_questions() -> None:
    known = cases(1, "ann", 40)
    strict = choose(known, "moonshine", load(), LIMITS, Target(silently_wrong=0.0))
    loose = choose(known, "moonshine", load(), LIMITS, Target(silently_wrong=0.05))

    assert strict.kept
    assert strict.figures.wrong == 0
    assert loose.figures.wrong <= 2
    assert loose.figures.repeats < strict.figures.repeats
    assert strict.figures == figures(known, "moonshine", load(), strict.limits)
    assert in_order(strict.limits)
    # No single step along one of the limits does better.
    for name, values in STEPS.items():
        for value in values:
            near = changed(strict.limits, {name: value})
            if in_order(near):
                found = figures(known, "moonshine", load(), near)
                assert found.wrong > 0 or found.repeats >= strict.figures.repeats


def test_limits_stay_where_nothing_speaks_against_them() -> None:
    known = [phrase(PLUS_TWO, heard((PLUS_TWO, -0.1))) for _ in range(20)]

    assert choose(known, "moonshine", load(), LIMITS).limits == LIMITS


def test_other_talk_counts() -> None:
    known = [
        *(phrase(PLUS_TWO, heard((PLUS_TWO, -6.2))) for _ in range(5)),
        talk(60.0, heard(("left eye", -5.4), free="left eye"), heard()),
    ]
    without = choose(known[:-1], "moonshine", load(), LIMITS)
    with_talk = choose(known, "moonshine", load(), LIMITS)

    assert without.figures.right == 5
    assert (with_talk.figures.talk_entered, with_talk.figures.right) == (0, 0)
    assert with_talk.figures == figures(known, "moonshine", load(), with_talk.limits)
    assert figures(known, "moonshine", load(), without.limits).talk_entered == 1
    few = Target(entered_an_hour=1.0)
    assert choose(known, "moonshine", load(), LIMITS, few).figures.right == 5


def test_a_target_that_cannot_be_kept_is_not_called_kept() -> None:
    known = [phrase(PLUS_TWO, heard((MINUS_TWO, 0.5))) for _ in range(3)]
    choice = choose(known, "moonshine", load(), LIMITS)

    assert not choice.kept
    assert choice.figures.wrong == 3


class Halves:
    """The command with made-up hearings in the place of recordings."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, found: list[Case]) -> None:
        class Heard:
            def cases(self, name: str) -> list[Case]:
                return found

        monkeypatch.setattr(Selection, "limits_in_force", lambda self, name: LIMITS)
        monkeypatch.setattr(Selection, "rows", lambda self, grammar: [case.row for case in found])
        monkeypatch.setattr(Selection, "heard", lambda self, rows, names, grammar, say: Heard())

    def choose(self, to: Path, wrong: float = 0.01) -> str:
        """The table of limits that the command writes."""
        _calibrate("--silently-wrong", str(wrong), "--to", str(to), "--json", str(to.with_suffix(".json")))
        return to.read_text(encoding="utf-8")


def _calibrate(*given: str) -> None:
    """The command; what it says in one line is raised."""
    options = parsed(["bench", "calibrate", "made-up", "--listener", "moonshine", *given])
    assert options.run(options) == 0


def with_split(half: list[Case], split: str) -> list[Case]:
    return [replace(case, row=replace(case.row, split=split)) for case in half]  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", [2, 3])
def test_the_test_half_is_never_looked_at_when_choosing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, seed: int
) -> None:
    """Whatever became of the test half, the file that is written is the same; only the report differs."""
    tuning = with_split(cases(1, "ann"), "tuning")
    written, reports = [], []
    for other in (cases(seed, "bob"), [phrase(PLUS_TWO, heard((MINUS_TWO, 0.0)), speaker="bob")] * 50):
        halves = Halves(monkeypatch, [*tuning, *with_split(other, "test")])
        written.append(halves.choose(tmp_path / "limits.toml"))
        reports.append(json.loads((tmp_path / "limits.json").read_text())["figures"])

    assert written[0] == written[1]
    assert reports[0]["chosen, tuning half"] == reports[1]["chosen, tuning half"]
    assert reports[0]["chosen, test half"] != reports[1]["chosen, test half"]
    assert reports[1]["chosen, test half"]["wrong"] == 50


def test_the_tuning_half_decides(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The counterpart: one error more in the tuning half, and the limits are others."""
    test = with_split(cases(5, "bob"), "test")
    right = [phrase(PLUS_TWO, heard((PLUS_TWO, score))) for score in (-1.0, -4.2, -5.2, -5.7)]
    written = []
    for error in (heard(), heard((MINUS_TWO, -4.6))):
        halves = Halves(monkeypatch, [*with_split([*right, phrase(PLUS_TWO, error)], "tuning"), *test])
        written.append(tomllib.loads(halves.choose(tmp_path / "limits.toml"))["limits"])

    assert written[0] == {**asdict(LIMITS), "accept_score": -6.0}
    assert written[1] == {**asdict(LIMITS), "accept_score": -4.5}


def test_the_file_says_what_made_it_and_can_be_used(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = [*with_split(cases(1, "ann"), "tuning"), *with_split(cases(2, "bob"), "test")]
    text = Halves(monkeypatch, found).choose(tmp_path / "limits.toml")
    out = capsys.readouterr().out

    assert asdict(read_limits(tmp_path / "limits.toml")) == tomllib.loads(text)["limits"]
    assert all(line.startswith("# ") for line in text.split("[limits]")[0].splitlines())
    for part in ("Corpora: ", "ann", "moonshine", "16 phrases", "silently wrong at most 1 %"):
        assert part in text
    assert "bob" not in text
    assert text in out
    assert "chosen, test half" in out


def test_with_the_tuning_half_alone_the_other_is_not_even_reported(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Halves(monkeypatch, with_split(cases(1, "ann"), "tuning"))
    _calibrate("--split", "tuning", "--silently-wrong", "0.01")

    assert "test half" not in capsys.readouterr().out


def test_nothing_is_written_where_the_target_cannot_be_kept(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    hopeless = [phrase(PLUS_TWO, heard((MINUS_TWO, 0.5)), speaker=name) for name in ("ann", "bob")]

    with pytest.raises(
        MeasuringError, match=r"no limits keep the target on the tuning half; the nearest: 1 phrases"
    ):
        Halves(monkeypatch, hopeless).choose(tmp_path / "limits.toml")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[limits]\naccept_score = -5\n", "must hold a table"),
        ("accept_score = ", "is not TOML"),
        ("limits = 3\n", "must hold a table"),
    ],
)
def test_files_of_limits_that_cannot_be_used(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "limits.toml"
    path.write_text(text)

    with pytest.raises(MeasuringError, match=message):
        read_limits(path)
    with pytest.raises(MeasuringError, match="cannot be read"):
        read_limits(tmp_path)


def test_a_limit_that_is_no_number(tmp_path: Path) -> None:
    path = tmp_path / "limits.toml"
    given = {**asdict(default_limits()), "ask_score": "true"}
    path.write_text("[limits]\n" + "".join(f"{name} = {value}\n" for name, value in given.items()))

    with pytest.raises(MeasuringError, match="ask_score is True, not a number"):
        read_limits(path)
