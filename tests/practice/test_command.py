"""`voicelog practice` from the command line: typed, watched, by voice from a recording, and what it refuses."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.english import load
from tests.practice.running import Run
from voicelog.cli import practice
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.practice.examiner import Examiner, Plan
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel, SimulatedEye, parse_refraction, random_refraction
from voicelog.practice.judging import judge
from voicelog.practice.lesson import Lesson
from voicelog.record.places import data_folder
from voicelog.settings import Settings

TWO_PHRASES = Path(__file__).parents[1] / "hearing" / "audio" / "two_phrases.flac"
EYE = ("--refraction", "+1.25 -1.75 x 90", "--distance", "50")
LINES = """right eye
streak vertical
sphere plus one
streak 90 neutral at +1.50
streak 180 neutral at +3.25
done
streak 180 neutral at +9.00
"""


def test_a_typed_lesson_as_json(run: Run) -> None:
    status, out, err = run("--json", "--seed", "4", *EYE, stdin=LINES)
    found = json.loads(out)

    assert (status, err) == (0, "")
    assert found["truth"] == found["found"]
    assert found["truth"]["axis"] == 90
    assert (found["close"], found["mistake"], found["lenses"]) == (True, None, 3)
    assert [each["motion"] for each in found["looks"]] == ["with", "with", "neutral", "neutral"]
    assert found["looks"][2]["speed"] is None
    assert found["looks"][1]["lenses"]["sphere"] == 1.0
    assert found["exam"]["eyes"]["right"]["status"] == "solved"


def test_a_newcomer_is_told_what_to_do_and_what_came_of_it(run: Run) -> None:
    status, out, _ = run("--words", "--seed", "4", *EYE, stdin=LINES)
    text = " ".join(out.split())

    assert status == 0
    assert "Tell the log what is set" in text
    assert "At the end: done." in text
    assert "with motion" in text
    assert "true +1.25 -1.75 x 090" in text
    assert "logged +1.25 -1.75 x 090" in text
    assert "not a prescription" in text
    assert text.index("logged") > text.index("with motion")
    assert "+1.25 -1.75" not in text[: text.index("true +1.25")]


def test_what_is_seen_is_told_when_it_is_asked_for(run: Run) -> None:
    lines = "right eye\nstreak vertical\n"
    silent, asked = (run(*EYE, stdin=text)[1] for text in (lines, f"{lines}tell me\n"))

    assert "⣿" in silent
    for word in ("with motion", "→", "narrow", "bright"):
        assert word not in silent.split("done.")[1]
    assert "with motion, brisk" in asked
    assert "lay the streak first" in run(*EYE, stdin="tell me\n")[1]


def test_nothing_of_a_lesson_is_kept_in_the_record(run: Run) -> None:
    run(*EYE, stdin=LINES)

    assert [each.name for each in data_folder().iterdir()] == ["practice.jsonl"]


def test_nothing_at_all_is_kept_where_that_is_said_or_nothing_was_done(run: Run) -> None:
    run(*EYE, "--no-progress", stdin=LINES)
    run(*EYE, stdin="right eye\ndone\n")
    run(*EYE, stdin=LINES.split("done")[0])
    run("--watch", *EYE)

    assert not data_folder().exists()


def test_the_same_seed_is_the_same_eye_and_none_is_another_each_time(run: Run) -> None:
    def truth(*arguments: str) -> Any:
        return json.loads(run("--json", *arguments)[1])["truth"]

    assert truth("--seed", "9") == truth("--seed", "9") != truth("--seed", "10")
    assert truth() != truth()


@pytest.mark.parametrize("technique", ["spheres", "sphere-cylinder", "cylinders"])
def test_the_scripted_examiner_can_be_watched(run: Run, technique: str) -> None:
    status, out, _ = run("--watch", "--json", "--seed", "12", "--technique", technique)
    found = json.loads(out)

    assert status == 0
    assert found["close"]
    assert found["mistake"] is None
    assert len(found["looks"]) > 10


def test_the_scripted_examiner_asks_which_lens_is_next_and_does_it(run: Run) -> None:
    status, out, _ = run("--watch", "--advised", "--seed", "12")

    assert status == 0
    assert "which lens next" in out
    assert "enough, both meridians within a quarter" in " ".join(out.split())
    assert "Right: as near as one retinoscopy comes" in out


def test_watching_shows_looks_and_lines(run: Run) -> None:
    out = run("--watch", "--seed", "12")[1]

    assert "says: right eye" in out
    assert "streak" in out
    assert "⠀" in out


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (("--refraction", "strong"), "is no refraction"),
        (("--tremor", "-1"), "--tremor: '-1' is not a number from 0"),
        (("--tremor", "much"), "--tremor"),
        (("--reflex", "odd"), "--reflex"),
        (("--technique", "guess"), "--technique"),
        (("--distance", "5"), "10 to 100"),
        (("--off-axis", "40"), "'40' is not a side angle from -25 to 25 degrees"),
        (("--age", "1"), "an age of 1 years"),
        (("--watch", "--voice"), "do not go together"),
        (("--watch", "--mirror", "concave"), "do not go together"),
        (("--source", "x.wav"), "--source needs --voice"),
        (("--voice", "--source", "none.wav"), "no such file"),
        (("--watch", "--off-axis", "10"), "do not go together"),
    ],
)
def test_what_cannot_be_set_is_refused_in_one_line(
    run: Run, arguments: tuple[str, ...], complaint: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(practice, "chosen_engine", lambda *_: None)

    status, out, err = run(*arguments)

    assert (status, out) == (2, "")
    assert complaint in err
    assert len(err.splitlines()) == 1


class Script:
    """An engine that hears the lines of a script one after the other, by the rule that it is asked for."""

    name = "script"

    def __init__(self, *lines: str) -> None:
        self._lines = iter(lines)
        self._known: dict[bytes, Hearing] = {}
        self.rules: set[str] = set()

    def hear(self, samples: Samples, rule: str) -> Hearing:
        """The next line, once for each sound."""
        from voicelog.hearing.engines.protocol import Hypothesis
        from voicelog.phrases.lines import LineReader

        self.rules.add(rule)
        sound = samples.tobytes()
        if sound not in self._known:
            text = next(self._lines)
            (meanings,) = LineReader(load(), rule).understand(text).readings
            self._known[sound] = Hearing(self.name, (Hypothesis(text, meanings, -1.0),), text, -1.0, 0.0)
        return self._known[sound]


def test_a_lesson_by_voice(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """The recording's two utterances stand for a place and an entry; both are answered."""
    engine = Script("streak vertical", "right eye")
    monkeypatch.setattr(practice, "chosen_engine", lambda *_: engine)

    status, out, _ = run("--voice", "--source", str(TWO_PHRASES), "--json", *EYE)
    found = json.loads(out)

    assert status == 0
    assert engine.rules == {"line loose_where lesson"}
    assert [look["streak"] for look in found["looks"]] == [90.0]
    assert [entry["text"] for entry in found["exam"]["entries"]] == ["right eye"]


def test_stop_listening_ends_a_lesson_by_voice(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(practice, "chosen_engine", lambda *_: Script("right eye", "stop listening"))

    status, out, _ = run("--voice", "--source", str(TWO_PHRASES), *EYE)

    assert status == 0
    assert "> right eye" in out
    assert "The first mistake: the log has no result" in " ".join(out.split())


def test_the_examiner_gives_up_on_an_eye_that_no_lens_reaches() -> None:
    eye = SimulatedEye(EyeModel(parse_refraction("-32.00")), 1)

    with pytest.raises(Exception, match="no sphere up to"):
        list(Examiner(eye, Plan("spheres", "streak")).lines())


def walk() -> list[tuple[str, str]]:
    """The lesson in the README: each line typed, and what it says is seen then."""
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    block = text.split("## Practise first")[1].split("```text\n")[1].split("```")[0]
    parts = [step.partition("\n") for step in ("\n" + block).split("\n> ")[1:]]
    told = [(line, seen.strip()) for line, _, seen in parts]
    assert len(told) >= 12
    return told


def test_the_walk_in_the_readme_is_what_happens() -> None:
    exercise = Exercise(EyeModel(random_refraction(45)), 45)
    lesson = Lesson(exercise, Settings())
    for line, seen in walk():
        assert (line, lesson.type_line(line).seen) == (line, seen)

    assert lesson.ended
    assert judge(exercise, lesson.state).mistake is None
    assert judge(exercise, lesson.state).close
