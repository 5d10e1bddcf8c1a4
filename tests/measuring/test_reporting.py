"""Tables, JSON and the plot say the same, and the commands answer on the command line."""

import json
import re
from dataclasses import asdict
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree

import pytest
from rich.console import Console

from tests.english import load
from tests.measuring.made_up import LIMITS, heard, phrase, talk
from voicelog.cli import main
from voicelog.measuring.counting import Case, Counted, counted
from voicelog.measuring.intervals import poisson, wilson
from voicelog.measuring.listeners import judge_of
from voicelog.measuring.plot import svg
from voicelog.measuring.reporting import Made, as_json, tables
from voicelog.measuring.selection import DEFAULT_CACHE, Selection

PLUS_TWO = "streak vertical neutral at plus two"
MINUS_TWO = "streak vertical neutral at minus two"
RIGHT, WRONG, ASKED = heard((PLUS_TWO, -1.0)), heard((MINUS_TWO, -1.0)), heard((PLUS_TWO, -7.0))
CASES: list[Case] = [
    *(phrase(PLUS_TWO, RIGHT) for _ in range(8)),
    *(
        phrase(PLUS_TWO, each, condition="noise", snr_db=5.0, speaker="bob")
        for each in (RIGHT, WRONG, ASKED, heard())
    ),
    *(phrase(PLUS_TWO, RIGHT, condition="noise", snr_db=20.0) for _ in range(2)),
    talk(90.0, heard(("left eye", -1.0)), heard(("left eye", -7.0)), heard()),
]
MADE = Made(
    datetime(2026, 11, 25, tzinfo=UTC), ("readings",), ("moonshine",), {"moonshine": LIMITS}, 2, None, 1, 0
)


@pytest.fixture(name="found")
def _found() -> Counted:
    judge = judge_of("moonshine", load(), LIMITS)
    return counted([("moonshine", CASES, judge), ("normal", CASES, judge)])


def test_json_has_counts_shares_and_intervals(found: Counted) -> None:
    report = json.loads(json.dumps(as_json(found, MADE, with_misses=True), allow_nan=False))
    one = report["phrases"]["set"][0]

    assert (one["listener"], one["set"], one["total"]) == ("moonshine", "phrases", 14)
    assert [one[name]["count"] for name in ("right", "asked", "wrong", "ignored")] == [11, 1, 1, 1]
    assert one["right"]["share"] == pytest.approx(11 / 14, abs=1e-5)
    assert one["wrong"]["interval"] == pytest.approx(wilson(1, 14), abs=1e-5)
    assert {(each.get("condition"), each.get("snr_db")) for each in report["phrases"]["condition"]} == {
        ("quiet", None),
        ("noise", 5.0),
        ("noise", 20.0),
    }
    other = report["talk"]["set"][0]
    assert (other["entered"], other["asked"], other["hours"], other["kinds"]) == (1, 1, 1.5, {"eye": 1})
    assert other["entered_an_hour"] == pytest.approx(1 / 1.5, abs=1e-3)
    assert other["interval"] == pytest.approx(poisson(1, 1.5), abs=1e-3)
    assert other["asked_in_10_minutes"] == pytest.approx(1 / 9, abs=1e-3)
    assert report["made"]["limits"] == {"moonshine": asdict(LIMITS)}
    assert len(report["misses"]) == 2 * 5


def test_tables_put_listeners_below_one_another_and_quiet_before_noise(found: Counted) -> None:
    console = Console(width=200, file=StringIO())
    for table in tables(found):
        console.print(table)
    text = console.file.getvalue()  # type: ignore[attr-defined]
    by_condition = text.split("by condition")[1].split("\n\n")[0].splitlines()[2:8]

    assert [re.split(r"\s{2,}", line.strip())[:4] for line in by_condition[:2]] == [
        ["moonshine", "phrases", "quiet", "8"],
        ["normal", "phrases", "quiet", "8"],
    ]
    assert [re.split(r"\s{2,}", line.strip())[2:4] for line in by_condition[2:]] == [
        ["noise", "20"],
        ["noise", "20"],
        ["noise", "5"],
        ["noise", "5"],
    ]
    assert "1 25.0 % (4.6-69.9)" in text
    assert "1 (eye 1)  0.67 (0.02-3.71)" in text


def test_of_many_voices_the_worst_are_shown_and_it_is_said() -> None:
    entered = heard(("left eye", -1.0))
    cases = [talk(1.0, entered if at == 60 else heard(), speaker=f"s{at:02}") for at in range(70)]
    judge = judge_of("moonshine", load(), LIMITS)
    console = Console(width=200, file=StringIO())
    for table in tables(counted([("moonshine", cases, judge)]), ("voice",)):
        console.print(table)
    text = console.file.getvalue()  # type: ignore[attr-defined]

    assert "the 40 of 70 with most entered and asked" in text
    assert "s60" in text
    assert text.count("moonshine") == 40


def test_the_plot_stacks_to_a_hundred_per_cent(found: Counted) -> None:
    root = ElementTree.fromstring(svg(found))
    space = {"s": "http://www.w3.org/2000/svg"}
    panels = root.findall("s:g", space)
    first = panels[0].findall("s:rect", space)
    tall: dict[str, float] = {}
    for bar in first:
        tall[bar.attrib["x"]] = tall.get(bar.attrib["x"], 0.0) + float(bar.attrib["height"])
    labels = [text.text for text in panels[0].findall("s:text", space)]

    assert len(panels) == 2
    assert list(tall.values()) == pytest.approx([180.0] * 3, abs=0.05)
    assert [label for label in labels if label in ("quiet", "20 dB", "5 dB")] == ["quiet", "20 dB", "5 dB"]
    assert "25.0 %" in labels


def test_text_in_the_plot_is_escaped() -> None:
    cases = [phrase(PLUS_TWO, RIGHT, set_name="a<b&c")]
    text = svg(counted([("moonshine", cases, judge_of("moonshine", load(), LIMITS))]))

    assert "a&lt;b&amp;c" in text
    ElementTree.fromstring(text)


def test_the_command_prints_and_writes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    class Heard:
        def cases(self, name: str) -> list[Case]:
            return CASES

        def stale(self) -> int:
            return 0

    monkeypatch.setattr(Selection, "rows", lambda self, grammar: [case.row for case in CASES])
    monkeypatch.setattr(Selection, "heard", lambda self, rows, names, grammar, say: Heard())
    report, plot = tmp_path / "r.json", tmp_path / "r.svg"
    status = main(
        [
            "bench",
            "recognition",
            str(tmp_path),
            "--listeners",
            "moonshine,free",
            "--misses",
            "--json",
            str(report),
            "--plot",
            str(plot),
        ]
    )
    out = capsys.readouterr().out

    assert status == 0
    assert "phrases, by set" in out
    assert "other talk, by set" in out
    assert "moonshine\twrong\tphrases\tbob\tnoise" in out
    assert json.loads(report.read_text())["made"]["listeners"] == ["moonshine", "free"]
    ElementTree.parse(plot)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["recognition", "none.tsv"], "no manifest can be read there"),
        (["recognition", ".", "--listeners", "me"], "no listener is named 'me'"),
        (["recognition", ".", "--rule", "colour"], "no rule named 'colour'"),
        (["recognition", ".", "--sample", "0"], "not a whole number from 1"),
        (["recognition", ".", "--voices", "zoe"], "no row is left"),
        (["recognition", ".", "--split", "test"], "no row is left"),
        (["recognition", "."], "1 of 1 recordings are missing"),
        (["calibrate", ".", "--listener", "free"], "has no limits"),
        (["calibrate", ".", "--split", "test"], "never chosen on the test half"),
        (["calibrate", ".", "--silently-wrong", "2"], "not a share from 0 to 1"),
        (["calibrate", ".", "--limits", "none.toml"], "none.toml: cannot be read"),
    ],
)
def test_what_cannot_be_measured_is_said_in_one_line(
    arguments: list[str],
    message: str,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("manifest.tsv").write_text("path\ttranscript\tspeaker\na.flac\tright eye\tann\n")
    try:
        status = main(["bench", *arguments])
    except SystemExit as stop:
        status = int(stop.code or 0)
    error = capsys.readouterr().err

    assert status == 2
    assert message in error
    assert len(error.splitlines()) == 1
    assert DEFAULT_CACHE.exists() is False
