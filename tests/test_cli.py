"""The command line's contract: what is printed, and the exit status."""

import io
import json
import re
import shutil
import subprocess
import sys
import unicodedata
from collections.abc import Callable
from contextlib import nullcontext, redirect_stdout
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from tests.english import load
from voicelog.cli import COMMANDS, hear, main, replay, type_lines
from voicelog.exam.events import Event
from voicelog.exam.state import ExamState
from voicelog.hearing.engines.protocol import Engine
from voicelog.phrases.lines import LineReader
from voicelog.record.errors import RecordFullError
from voicelog.session import Memory

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(name="run")
def _run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    def run(*arguments: str, stdin: str | bytes = "") -> tuple[int, str, str]:
        data = stdin.encode() if isinstance(stdin, str) else stdin
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
        try:
            status = main(list(arguments))
        except SystemExit as stop:
            status = int(stop.code or 0)
        out, err = capsys.readouterr()
        return status, out, err

    return run


EXAM = """right eye
working distance fifty
working lens in
streak horizontal neutral with sphere plus one and a quarter
streak vertical neutral with cylinder minus one seventy five axis ninety
"""


def test_type_prints_one_object(run: Run) -> None:
    status, out, err = run("type", "--json", stdin=EXAM)
    exam = json.loads(out)

    assert (status, err) == (0, "")
    assert exam["naming"] == "streak"
    assert exam["eyes"]["right"]["status"] == "solved"
    assert exam["eyes"]["right"]["net"] == {
        "sphere": 1.25,
        "cylinder": -1.75,
        "axis": 90,
        "spherical_equivalent": 0.375,
    }
    solved: dict[str, Any] = {
        "status": "empty",
        "condition": "dry",
        "readings": [],
        "net": None,
        "exact": None,
        "estimate": None,
        "uncertainty": None,
        "residual": None,
        "problems": [],
    }
    before_it = {"lenses": {"sphere": None, "cylinder": None, "axis": None}, "reflex": [], "since_drops": []}
    repeated = {"pass": 1, "passes": [], "mean": None, "result": None, "results": {}}
    further = {"spectacles": None, "subjective": None, "addition": None}
    near: dict[str, Any] = {"near": {"dark": None, "accommodation": []}}
    assert exam["eyes"]["left"] == solved | before_it | repeated | further | near
    assert [entry["outcome"] for entry in exam["entries"]] == ["accepted"] * 5


def test_type_says_what_it_did_not_understand_and_goes_on(run: Run) -> None:
    status, out, err = run("type", "--json", stdin="right eye\nlook here\nsphere plus 40\nstreak 90 with\n")
    exam = json.loads(out)

    assert status == 0
    assert [entry["outcome"] for entry in exam["entries"]] == ["accepted", "asked", "asked", "asked"]
    assert len(err.splitlines()) == 3
    assert "'look here' is nothing for the log" in err
    assert "streak vertical (090) with waits: " in err  # for the lens that cannot be
    assert exam["exam"]["waiting"] == 1


@pytest.mark.parametrize(
    "stdin",
    [b"", b"\n\n", b"\xff\xfe\x00\n", b"right eye\x00\n", "ｒｉｇｈｔ eye\n".encode(), b"x" * 100_000],
)
def test_type_survives_anything(run: Run, stdin: bytes) -> None:
    status, out, _ = run("type", "--json", stdin=stdin)

    assert status == 0
    assert json.loads(out)["eyes"]["right"]["status"] == "empty"


@pytest.mark.parametrize(
    "line", ["note {} odd", "right eye {}", "sphere {} plus 40", "streak {} 90 with at 7"]
)
@pytest.mark.parametrize("json_", [True, False])
def test_what_is_typed_moves_no_cursor(run: Run, line: str, json_: bool) -> None:
    """Escape sequences, C1 controls and marks of direction are shown as numbers, and the journal keeps the words."""
    _, out, err = run(
        "type", *(["--json"] if json_ else []), stdin=line.format("\x1b[2J\x9b31m\u202e\x07") + "\n"
    )

    shown = out + err
    assert not any(unicodedata.category(each) in ("Cc", "Cf") for each in shown if each != "\n")
    assert json_ or "\\u{1b}" in shown


def test_an_error_moves_no_cursor(run: Run) -> None:
    for arguments in (
        ("record", "show", "no\x1b[2Jbody"),
        ("hear", "no\x1b[2Jsuch.wav"),
        ("no\x1b[2Jcommand",),
    ):
        status, out, err = run(*arguments)

        assert status == 2
        assert "\x1b" not in out + err
        assert "2J" in err


def test_type_without_json_shows_the_refraction_and_the_caution(run: Run) -> None:
    _, out, _ = run("type", stdin=EXAM)

    assert "+1.25 -1.75 x 090" in out
    assert "not a prescription" in " ".join(out.split())


def test_the_naming_habit_and_the_form_are_options(run: Run) -> None:
    lines = "right eye\nhorizontal neutral at +3\nvertical neutral at +1.50\n"

    _, streak, _ = run("type", "--json", "--distance", "50", "--naming", "streak", stdin=lines)
    _, unset, _ = run("type", "--json", "--distance", "50", stdin=lines)
    _, meridian, _ = run(
        "type", "--json", "--distance", "50", "--naming", "meridian", "--form", "plus", stdin=lines
    )

    assert json.loads(streak)["eyes"]["right"]["net"]["axis"] == 90
    assert json.loads(meridian)["eyes"]["right"]["net"] == {
        "sphere": -0.5,
        "cylinder": 1.5,
        "axis": 90,
        "spherical_equivalent": 0.25,
    }
    assert json.loads(meridian)["naming"] == "meridian"
    assert json.loads(unset)["eyes"]["right"]["net"] is None  # it is asked what the bare directions name


def test_solve(run: Run) -> None:
    status, out, _ = run(
        "solve", "--reading", "90=+3.00", "--reading", "180=+1.50", "--distance", "67", "--json"
    )
    result = json.loads(out)

    assert status == 0
    assert result["status"] == "solved"
    assert result["net"] == {"sphere": 1.5, "cylinder": -1.5, "axis": 90, "spherical_equivalent": 0.75}
    assert result["exact"]["sphere"] == pytest.approx(3 - 1 / 0.67, abs=1e-9)
    assert result["problems"] == []


def test_solve_with_the_lens_in_takes_nothing_off(run: Run) -> None:
    _, out, _ = run(
        "solve", "--reading", "90=-3", "--reading", "0=-2", "--distance", "67", "--lens-in", "--json"
    )

    assert json.loads(out)["net"] == {
        "sphere": -2.0,
        "cylinder": -1.0,
        "axis": 180,
        "spherical_equivalent": -2.5,
    }


@pytest.mark.parametrize(
    "arguments",
    [
        ("--reading", "90=3", "--distance", "0"),
        ("--reading", "90=3", "--distance", "-67"),
        ("--reading", "90=3", "--distance", "700"),
        ("--reading", "90=3", "--distance", "nan"),
        ("--reading", "90=3", "--distance", "far"),
        ("--reading", "90=40.25", "--distance", "67"),
        ("--reading", "181=3", "--distance", "67"),
        ("--reading", "90:3", "--distance", "67"),
        ("--reading", "90=", "--distance", "67"),
        ("--reading", "90=3"),
        ("--reading", "90=3", "--distance", "67"),
        ("--distance", "67"),
    ],
)
def test_solve_refuses_in_one_line(run: Run, arguments: tuple[str, ...]) -> None:
    status, out, err = run("solve", *arguments)

    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert err.startswith("voicelog")


@pytest.mark.parametrize("distance", ["0", "-5", "700", "nan"])
def test_an_exam_refuses_an_impossible_distance(run: Run, distance: str) -> None:
    status, _, err = run("type", "--distance", distance)

    assert status == 2
    assert len(err.splitlines()) == 1


def test_phrases_are_phrases(run: Run) -> None:
    _, out, _ = run("phrases", "--sample", "50", "--seed", "4")
    _, again, _ = run("phrases", "--sample", "50", "--seed", "4")
    reader = LineReader(load())

    assert out == again
    assert len(out.splitlines()) == 50
    for line in out.splitlines():
        assert reader.understand(line).readings


def test_the_card_lists_the_entries(run: Run) -> None:
    status, out, _ = run("phrases")

    assert status == 0
    assert "scratch that" in out


def test_an_unknown_rule_is_named(run: Run) -> None:
    for command in (("phrases", "--sample", "1"), ("hear", "none.wav")):
        status, _, err = run(*command, "--rule", "nothing")
        assert status == 2
        assert "no rule named 'nothing'" in err


@pytest.fixture(name="tone")
def _tone(tmp_path: Path) -> Path:
    path = tmp_path / "tone.wav"
    soundfile.write(path, 0.3 * np.sin(2 * np.pi * 440 * np.arange(16000) / 16000), 16000)
    return path


def bad_files(folder: Path) -> dict[str, Path]:
    """Files that are no utterance."""
    made = {name: folder / f"{name}.wav" for name in ("empty", "text", "cut", "none", "frameless")}
    made["empty"].touch()
    made["text"].write_text("this is no sound")
    soundfile.write(made["frameless"], np.zeros(0), 16000)
    whole = folder / "whole.wav"
    soundfile.write(whole, np.zeros(16000), 16000)
    made["cut"].write_bytes(whole.read_bytes()[:30])
    made["folder"] = folder
    return made


@pytest.mark.parametrize("name", ["empty", "text", "cut", "none", "frameless", "folder"])
@pytest.mark.parametrize("command", ["hear", "replay"])
def test_an_unusable_recording_is_one_line(run: Run, tmp_path: Path, command: str, name: str) -> None:
    status, out, err = run(command, str(bad_files(tmp_path)[name]), "--json")

    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize("kind", ["silence", "clipped", "stereo", "low rate", "high rate", "tone", "noise"])
def test_odd_sound_is_read_and_never_an_entry(
    run: Run, tmp_path: Path, kind: str, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    for command in (hear, replay):
        monkeypatch.setattr(command, "chosen_engine", lambda *_: engine)
    time_s = np.arange(32000) / 16000
    sound: dict[str, tuple[Any, int]] = {
        "silence": (np.zeros(32000), 16000),
        "clipped": (np.clip(5 * np.sin(2 * np.pi * 300 * time_s), -1, 1), 16000),
        "stereo": (np.stack([np.sin(440 * time_s), np.cos(300 * time_s)], axis=1) * 0.1, 16000),
        "low rate": (0.2 * np.sin(2 * np.pi * 200 * time_s), 8000),
        "high rate": (0.2 * np.sin(2 * np.pi * 200 * time_s), 96000),
        "tone": (0.3 * np.sin(2 * np.pi * 440 * time_s), 16000),
        "noise": (0.2 * np.random.default_rng(1).standard_normal(32000), 16000),
    }
    path = tmp_path / "odd.wav"
    soundfile.write(path, *sound[kind])

    heard_status, heard, _ = run("hear", str(path), "--json")
    status, exam, _ = run("replay", str(path), "--json")

    assert (heard_status, status) == (0, 0)
    assert json.loads(heard)["outcome"] != "accepted"
    assert [entry for entry in json.loads(exam)["entries"] if entry["outcome"] == "accepted"] == []


def test_hear_goes_on_after_a_file_that_cannot_be_read(run: Run, tone: Path, tmp_path: Path) -> None:
    status, out, err = run("hear", str(tmp_path / "none.wav"), str(tone), "--json")

    assert status == 2
    assert [json.loads(line)["file"] for line in out.splitlines()] == [str(tone)]
    assert len(err.splitlines()) == 1


def test_a_missing_model_is_named_with_what_to_install(
    run: Run, tone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.hearing.engines.network.find_spec", lambda _: None)

    status, _, err = run("hear", "--engine", "moonshine", str(tone))

    assert status == 3
    assert "pip install moonshine-voice" in err


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("naming = 'axis'", "naming"),
        ("working_distance_cm = 700", "working_distance_cm"),
        ("unknown = 1", "unknown"),
        ("naming = ", "is no settings file (TOML)"),
    ],
)
def test_a_faulty_settings_file_is_one_line(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str, complaint: str
) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(text)
    monkeypatch.setenv("VOICELOG_SETTINGS", str(path))

    status, _, err = run("type")

    assert status == 2
    assert complaint in err
    assert len(err.splitlines()) == 1


def test_settings_are_used(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "settings.toml"
    path.write_text("naming = 'meridian'\nworking_distance_cm = 50\n")
    monkeypatch.setenv("VOICELOG_SETTINGS", str(path))

    exam = json.loads(run("type", "--json", stdin="right eye\n")[1])

    assert (exam["naming"], exam["exam"]["working_distance_cm"]) == ("meridian", 50.0)


def test_a_reader_that_goes_away_is_no_error() -> None:
    command = (
        f"{sys.executable} -m voicelog phrases --sample 3000 --seed 1 | head -1; echo ${{PIPESTATUS[0]}}"
    )
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=120, check=True)

    assert done.stdout.splitlines()[-1] == "0"
    assert "Traceback" not in done.stderr


def test_a_setting_is_set_shown_and_reset(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "place" / "settings.toml"
    monkeypatch.setenv("VOICELOG_SETTINGS", str(path))

    assert run("settings", "set", "working_distance_cm", "66.7")[0] == 0
    assert run("settings", "set", "naming", "meridian")[0] == 0
    assert path.read_text() == 'working_distance_cm = 66.7\nnaming = "meridian"\n'
    shown = run("settings")[1]
    assert "66.7" in shown
    assert str(path) in shown
    assert run("settings", "reset", "naming")[0] == 0
    assert path.read_text() == "working_distance_cm = 66.7\n"


@pytest.mark.parametrize(
    ("name", "value"), [("volume", "3"), ("colour", "blue"), ("naming", "both"), ("spheres_d", "[1, 0.5]")]
)
def test_a_setting_that_is_not_allowed_is_one_line_and_changes_nothing(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, value: str
) -> None:
    path = tmp_path / "settings.toml"
    path.write_text("# mine\nvolume = 0.3\n")
    monkeypatch.setenv("VOICELOG_SETTINGS", str(path))

    status, _, err = run("settings", "set", name, value)

    assert status == 2
    assert name in err
    assert len(err.splitlines()) == 1
    assert path.read_text() == "# mine\nvolume = 0.3\n"


def test_an_error_names_setting_value_and_what_is_allowed(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "settings.toml"
    monkeypatch.setenv("VOICELOG_SETTINGS", str(path))
    for arguments, told in (
        (("set", "volume", "3"), "volume = 3: allowed is a number, 0 to 1"),
        (("set", "naming", "both"), 'naming = \'both\': allowed is "streak", "meridian"'),
        (("set", "nameing", "streak"), "nameing is no setting; there is naming"),
        (("set", "clip_days", "soon"), "clip_days = 'soon': allowed is a whole number, 0 to 36500"),
        (("reset", "colour"), "colour is no setting; voicelog settings lists them"),
    ):
        status, _, err = run("settings", *arguments)
        assert (status, err.strip().rpartition("voicelog: ")[2].removeprefix(f"{path}: ")) == (2, told)
    status, _, err = run("type", "--distance", "700")
    assert err == "voicelog type: --distance: '700' is not a working distance from 10 to 100 cm\n"


def test_the_program_alone_says_what_matters_first(run: Run) -> None:
    status, out, err = run()

    assert (status, err) == (0, "")
    named = [line.split()[1] for line in out.splitlines() if line.startswith("  voicelog ")]
    assert named == ["tour", "exam", "review", "practice"]
    assert all(re.search(rf"^    {name}\b", out, re.MULTILINE) for name in COMMANDS)


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not installed")
@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        (["re"], {"replay", "review", "record"}),
        (["record", "am"], {"amend"}),
        (["exam", "--read-back", ""], {"auto", "off", "changes", "short", "full"}),
        (["solve", "--re"], {"--reading"}),
    ],
)
def test_bash_completes_commands_options_and_values(
    bash_completion: Path, typed: list[str], offered: set[str]
) -> None:
    """By bash itself, with the variables that it gives to a function of completion (its manual, "Programmable Completion")."""
    words = " ".join(f"'{word}'" for word in ("voicelog", *typed))
    asked = (
        f"source '{bash_completion}'; COMP_WORDS=({words}); COMP_CWORD={len(typed)}; "
        f"_shtab_voicelog voicelog '{typed[-1]}' '{typed[-2] if len(typed) > 1 else 'voicelog'}'; "
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    done = subprocess.run(["bash", "-c", asked], capture_output=True, text=True, check=True)

    assert {each.strip() for each in done.stdout.split()} == offered


@pytest.fixture(scope="module", name="bash_completion")
def _bash_completion(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("completion") / "voicelog"
    with path.open("w", encoding="utf-8") as file, redirect_stdout(file):
        assert main(["completion", "bash"]) == 0
    return path


class RefusingStore(Memory):
    """A record whose disk is full for one entry."""

    def append(self, event: Event, state: ExamState | None = None) -> None:
        if event.number == 2 and not getattr(self, "refused", False):
            self.refused = True
            raise RecordFullError("the disk is full: make room")
        super().append(event, state)


def test_nothing_goes_in_behind_an_entry_that_the_record_refuses(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(type_lines, "kept", lambda settings, keep: nullcontext(RefusingStore()))

    lines = "right eye\nleft eye\nstreak horizontal neutral at plus two\n"
    status, out, err = run("type", "--json", "--distance", "67", stdin=lines)

    assert status == 2
    assert err.splitlines() == ["NOT ENTERED, nor anything behind it: left eye (the disk is full: make room)"]
    eyes = json.loads(out)["eyes"]
    assert [eyes[name]["readings"] for name in eyes] == [[], []]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_says_what_it_takes(run: Run, command: str) -> None:
    """Each is imported only when it is given: here all are."""
    status, out, err = run(command, "--help")

    assert (status, err) == (0, "")
    assert out.startswith(f"usage: voicelog {command} ")


def test_other_commands_are_not_imported() -> None:
    code = "import sys; from voicelog.cli import parsed; parsed(['solve', '--reading', '90=3']); print([*sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert "'voicelog.cli.solve'" in done.stdout
    for heavy in ("voicelog.cli.exam", "onnxruntime", "fastapi", "sqlalchemy"):
        assert f"'{heavy}'" not in done.stdout
