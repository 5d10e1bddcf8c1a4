"""A list of children by voice: an exam each in the order of the list, kept as usual, and a table at the end."""

import csv
import json
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.live.scripted import ScriptedEndpointer, utterance
from tests.live.test_exam_from_file import TWO_PHRASES
from tests.live.test_round import Says, Spoken, kept
from voicelog.cli import exam, main
from voicelog.exam.age_limits import noted_age
from voicelog.live import exam as live_exam
from voicelog.live import listening
from voicelog.record import under_way
from voicelog.record.exams import ExamRecord
from voicelog.record.places import data_folder

LIST = """reference,name,years,months
K1,not read,3,6
K2,,,18
K3,,5,
K4,,4,2
K5,,,
K1,,4,
,,4,
"""
DISTANCE = "working distance fifty"  # takes 2 D off
# By hand: streak upright meets the power along 180, lying that along 90; both less 2 D.
RIGHT_PLUS_5 = ("right eye", "streak 90 neutral at plus 7", "streak 180 neutral at plus 7")
LEFT_PLUS_1 = ("left eye", "streak 90 neutral at plus 3", "streak 180 neutral at plus 3")
BOTH_PLUS_1 = ("right eye", "streak 90 neutral at plus 3", "streak 180 neutral at plus 3", *LEFT_PLUS_1)
RIGHT_CYLINDER_2 = ("right eye", "streak 90 neutral at plus 3", "streak 180 neutral at plus 5")


@pytest.fixture(name="children")
def _children(tmp_path: Path) -> Path:
    path = tmp_path / "children.csv"
    path.write_text(LIST, encoding="utf-8")
    return path


@pytest.fixture(name="walked")
def _walked(
    monkeypatch: pytest.MonkeyPatch, children: Path, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[dict[str, Any], str]]:
    """Runs `voicelog screen` with lines that are said one after the other: its table, and what it told."""

    def run(*lines: str, options: tuple[str, ...] = ()) -> tuple[dict[str, Any], str]:
        source = Spoken(len(lines))
        finishes = {index: utterance(index, 600 * index, 600 * index + 400) for index in range(len(lines))}

        class Loop(listening.Listening):
            def __init__(self, *given: object, **named: object) -> None:
                super().__init__(*given, **named, endpointer=ScriptedEndpointer(finishes))  # type: ignore[arg-type]
                source.busy = lambda: self.busy

        monkeypatch.setattr(exam, "chosen_engine", lambda *_: Says(lines))
        monkeypatch.setattr(live_exam, "Listening", Loop)
        monkeypatch.setattr(live_exam.LiveExam, "_opened", lambda _: source)
        given = ["--source", str(TWO_PHRASES), "--pace", "fast", "--no-open", "--json", *options]
        assert main(["screen", str(children), *given]) == 0
        told = capsys.readouterr()
        return json.loads(told.out), told.err

    return run


def by_reference(found: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {each["reference"]: each for each in found["children"]}


def said_first(record: ExamRecord) -> list[str]:
    """What was read back before anything was said."""
    lines = [line for line in record.lines.values() if line.source == "voice"]
    return [line.reply for line in lines if not line.text][:1]


def ages(records: list[ExamRecord]) -> list[str]:
    found = [noted_age(each.state) for each in records]
    return ["" if each is None else each.value_words() for each in found]


def test_five_children_one_broken_off_and_gone_on_with(
    walked: Callable[..., tuple[dict[str, Any], str]],
) -> None:
    """K3 is broken off in the middle. The second run skips K1 and K2; K5, of unknown age, is held against no limit."""
    found, told = walked(
        *(DISTANCE, *BOTH_PLUS_1, "next patient"),
        *(DISTANCE, *RIGHT_PLUS_5, *LEFT_PLUS_1, "next patient"),
        *(DISTANCE, "right eye", "streak 90 neutral at plus 3"),
    )

    assert [each["progress"] for each in found["children"]] == [
        *("complete", "complete", "incomplete", "not examined", "not examined"),
    ]
    assert "line 7: reference K1 is on line 2 already: not used" in told
    assert "line 8: no reference: not used" in told
    assert "line 6: no age: reference K5 is examined without an age" in told

    found, _ = walked(
        *(DISTANCE, *RIGHT_CYLINDER_2, *LEFT_PLUS_1, "next patient"),
        *(DISTANCE, *BOTH_PLUS_1, "next patient"),
        *(DISTANCE, *RIGHT_PLUS_5, *LEFT_PLUS_1, "finish exam"),
    )

    records = kept()
    assert [each.started.reference for each in records] == ["K1", "K2", "K3", "K3", "K4", "K5"]
    assert ages(records) == ["3 years 6 months", "18 months", "5 years", "5 years", "4 years 2 months", ""]
    assert [each.state.ended for each in records] == [True, True, False, True, True, True]
    assert [said_first(each) for each in records[:2]] == [
        ["reference K1, 3 years 6 months"],
        ["reference K2, 18 months"],
    ]
    children = by_reference(found)
    assert found["complete"] == 5
    assert [each["reference"] for each in found["children"]] == ["K1", "K2", "K3", "K4", "K5"]
    assert children["K1"]["limits"] == {
        "2013": {"outcome": "not above", "above": []},
    }
    differs = "the eyes differ by 4.00 D, in spherical equivalent or in cylinder"
    above = ["right eye +5.00 D in the meridian with most plus", differs]
    assert children["K2"]["limits"] == {
        "2013": {"outcome": "above", "above": above},
    }
    # The eyes of K3: +3.00 -2.00 x 180 and +1.00; above 1.50 D of cylinder.
    assert children["K3"]["eyes"]["right"]["sphere"] == 3.0
    assert children["K3"]["eyes"]["right"]["cylinder"] == -2.0
    assert children["K3"]["exams_beside"] == 1
    assert children["K3"]["limits"]["2013"]["above"][0] == "right eye cylinder of 2.00 D"
    assert children["K3"]["limits"]["2013"]["outcome"] == "above"
    assert children["K5"]["limits"]["2013"] == {"outcome": "age not known", "above": []}
    assert children["K5"]["age"] is None
    assert found["problems"]
    assert any("not a prescription" in each for each in found["notes"])
    assert any("local rules" in each for each in found["notes"])


def test_another_reference_is_said(walked: Callable[..., tuple[dict[str, Any], str]]) -> None:
    """K4 comes before K1 and brings its own age; one who is not on the list has none, and is named."""
    found, _ = walked(
        *("reference kilo four", DISTANCE, *BOTH_PLUS_1, "next patient"),
        *("reference nine nine", DISTANCE, *BOTH_PLUS_1, "next patient"),
        *(DISTANCE, *BOTH_PLUS_1, "next patient"),
        *("next patient", DISTANCE, "right eye"),
    )

    records = kept()
    assert [each.started.reference for each in records] == ["K4", "99", "K1", "K3"]
    assert ages(records) == ["4 years 2 months", "", "3 years 6 months", "5 years"]
    children = by_reference(found)
    assert children["K4"]["progress"] == children["K1"]["progress"] == "complete"
    assert children["K2"]["progress"] == "not examined"  # was called, and nothing was entered
    assert children["K3"]["progress"] == "incomplete"
    assert found["unlisted"] == ["99"]


def test_after_the_last_the_reference_is_asked_for(
    walked: Callable[..., tuple[dict[str, Any], str]], children: Path
) -> None:
    children.write_text("reference;months\nK1;30\n", encoding="utf-8")
    found, _ = walked("right eye", "next patient", "#77", "right eye")

    assert [each.started.reference for each in kept()] == ["K1", "77"]
    assert said_first(kept()[1]) == ["the list is through"]
    assert found["unlisted"] == ["77"]


def test_an_exam_that_was_cut_off_goes_on_where_it_was(
    walked: Callable[..., tuple[dict[str, Any], str]],
) -> None:
    walked(DISTANCE, "right eye", "streak 90 neutral at plus 3")
    (record,) = kept()
    name = next(iter(_names()))
    under_way.begin(name)
    place = data_folder() / "under-way.json"
    place.write_text(json.dumps({"exam": name, "process": 2**22 + 1}))  # more than there can be

    found, _ = walked(
        "streak 180 neutral at plus 3", *LEFT_PLUS_1, "next patient", "right eye", options=("--continue",)
    )

    first, second = kept()
    assert first.started == record.started
    assert (first.started.reference, second.started.reference) == ("K1", "K2")
    assert by_reference(found)["K1"]["progress"] == "complete"


def _names() -> list[str]:
    from voicelog.record.journal import Journal

    with Journal.open() as journal:
        return list(journal.names())


def test_the_table_alone_as_text_and_as_a_file(
    walked: Callable[..., tuple[dict[str, Any], str]],
    children: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    walked(DISTANCE, *RIGHT_PLUS_5, *LEFT_PLUS_1, "next patient", DISTANCE, *RIGHT_PLUS_5, "white reflex")

    to = tmp_path / "found.csv"
    assert main(["screen", str(children), "--table", "--csv", str(to)]) == 0
    text = capsys.readouterr().out
    assert "K1, 3 years 6 months: ABOVE A LIMIT\n  right +5.00 DS (dry); left +1.00 DS (dry)" in text
    assert "K2, 18 months: ABOVE A LIMIT, INCOMPLETE\n  right +5.00 DS (dry); left no result" in text
    assert "remark: right eye: white reflex: usual practice is to refer without delay" in text
    assert "1 of 5 complete\nincomplete: K2\nnot examined: K3, K4, K5\n" in text
    assert "limits of 2013: Donahue et al." in text
    assert "limits of 2021" not in text
    assert "Where your local rules follow them, those hold." in text
    assert "Local law decides" in text
    with to.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [each["progress"] for each in rows] == ["complete", "incomplete", *["not examined"] * 3]
    assert (rows[0]["right_sphere_d"], rows[0]["left_sphere_d"], rows[1]["left_sphere_d"]) == ("5", "1", "")
    assert rows[0]["limits_2013"].startswith("above: right eye +5.00 D in the meridian with most plus")
    assert "not a prescription" in rows[0]["cautions"]

    assert main(["screen", str(children), "--table", "--csv", str(to)]) == 2
    assert "is not written over" in capsys.readouterr().err
    tomorrow = f"{date.today() + timedelta(days=1)}"
    assert main(["screen", str(children), "--table", "--since", tomorrow]) == 0
    assert "0 of 5 complete" in capsys.readouterr().out


def test_nothing_of_other_columns_reaches_the_record(
    walked: Callable[..., tuple[dict[str, Any], str]],
) -> None:
    found, told = walked(DISTANCE, "right eye")

    (record,) = kept()
    assert "not read" not in json.dumps(found) + told
    assert all("not read" not in event.model_dump_json() for event in record.events)
    first = next(iter(record.lines.values()))
    assert (first.source, first.text) == ("typed", "age 3 years 6 months")
