"""A day without hands: twelve patients by voice, one mute, one unplugging, one crash, and no key pressed.

What is heard is scripted and not sound, so that the day takes seconds: `tests/session`, `tests/live/test_in_a_room.py` and
`tests/live/test_capture_exam.py` have the ears. All else is the program as it runs, the record with it.
"""

import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from voicelog.exam.state import EYES, EyeName
from voicelog.record import under_way
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify

POWERS_D = {
    "plus two and three quarters": 2.75,
    "plus three and a quarter": 3.25,
    "plus two and a half": 2.5,
    "plus one point seven five": 1.75,
    "plus a half": 0.5,
    "minus three quarters": -0.75,
    "minus two and a quarter": -2.25,
    "minus one and a half": -1.5,
}
ALLOWANCE_D = 1.5  # at two thirds of a metre
PATIENTS = 12
MUTED, UNPLUGGED, CRASHED = 3, 6, 9
PATIENCE_S = 120.0


@dataclass(frozen=True)
class Patient:
    """What is found: of each eye the neutral power, in words, with the streak upright and lying."""

    reference: str
    found: dict[EyeName, tuple[str, str]]

    @property
    def refractions(self) -> dict[EyeName, str]:
        """By hand: the streak at 90 meets the power along 180, that at 180 the power along 90."""
        return {eye: self._refraction(*powers) for eye, powers in self.found.items()}

    @staticmethod
    def _refraction(upright: str, lying: str) -> str:
        along_180, along_90 = POWERS_D[upright] - ALLOWANCE_D, POWERS_D[lying] - ALLOWANCE_D
        sphere, axis = (along_180, 180) if along_180 > along_90 else (along_90, 90)
        cylinder = -abs(along_180 - along_90)
        return (
            f"{sphere:+.2f} {cylinder:+.2f} x {axis:03d}" if sphere else f"plano {cylinder:+.2f} x {axis:03d}"
        )


def patients() -> Iterator[Patient]:
    """Twelve whose eyes all differ."""
    words = list(POWERS_D)
    pairs = [(one, other) for one in words for other in words if one != other]
    for index in range(PATIENTS):
        right, left = pairs[(7 * index) % len(pairs)], pairs[(7 * index + 31) % len(pairs)]
        yield Patient(f"K{index + 1}", {"right": right, "left": left})


def dictation(index: int, patient: Patient) -> Iterator[str]:
    """A patient's exam as it is dictated, with slips, talk and what goes wrong on that day."""
    yield from (f"#{patient.reference}",)
    yield from ("working distance sixty seven", "look at the far letter please")
    for eye in EYES:
        upright, lying = patient.found[eye]
        yield f"{eye} eye"
        if index == MUTED and eye == "left":
            yield "!muted"
        yield f"streak ninety neutral at {upright}"
        if index == UNPLUGGED and eye == "right":
            yield "!unplugged"
        if index % 4 == 0 and eye == "right":
            yield from ("streak one eighty neutral at plus nine", "scratch that")
        yield f"streak one eighty neutral at {lying}"
    if index == CRASHED:
        yield "!killed"
    yield "finish exam" if index == PATIENTS else "next patient"


@dataclass
class Day:
    """The script, and what became of it."""

    script: list[str]
    told: str
    shown: int
    records: list[ExamRecord]
    faults: int


pytestmark = pytest.mark.sweep


@pytest.fixture(scope="module", name="day")
def _day(tmp_path_factory: pytest.TempPathFactory) -> Day:
    folder = tmp_path_factory.mktemp("day")
    script = ["next patient"]
    for index, patient in enumerate(patients(), 1):
        script += dictation(index, patient)
    path = folder / "script.txt"
    path.write_text("\n".join(script), encoding="utf-8")
    crash = script.index(f"#K{CRASHED}") + 4  # the ninth patient's first reading, or a little later

    shown, told = run(path, folder, 0, kill_at=crash)
    # Who did not hear that it was entered says it again.
    last, later = run(path, folder, shown + 1, "--continue")
    with Journal.open(folder) as journal:
        verdict = verify(journal)
        records = sorted((journal.exam(name) for name in journal.names()), key=lambda each: each.started.at)
    assert under_way.broken_off(folder) is None
    return Day(script, told + later, last, records, len(verdict.faults))


def run(path: Path, folder: Path, first: int, *options: str, kill_at: int | None = None) -> tuple[int, str]:
    """The program, until its day ends or it is killed; the number of the last thing that it showed, and what it told."""
    told_path = folder / f"told-{first}.txt"
    with told_path.open("w", encoding="utf-8") as told:
        child = subprocess.Popen(
            [sys.executable, "-m", "tests.live.day_child", str(path), str(first), *options],
            cwd=Path(__file__).parents[2],
            env=os.environ
            | {"VOICELOG_DATA": str(folder), "VOICELOG_SETTINGS": str(folder / "settings.toml")},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=told,
            text=True,
        )
        shown = [first]
        assert child.stdout is not None
        for line in child.stdout:
            if not line.strip().isdecimal():
                break  # the result, at the end of the day
            shown.append(int(line))
            if shown[-1] == kill_at:
                child.kill()
        child.stdout.read()
        child.stdout.close()
        status = child.wait(PATIENCE_S)
    text = told_path.read_text(encoding="utf-8")
    assert status == (0 if kill_at is None else -9), text
    return shown[-1], text


def test_every_patient_has_a_record_and_every_record_is_right(day: Day) -> None:
    wanted = list(patients())

    assert [each.started.reference for each in day.records] == [each.reference for each in wanted]
    assert all(each.state.ended for each in day.records)
    for record, patient in zip(day.records, wanted, strict=True):
        results = {name: str(record.state.eyes[name].result) for name in EYES}
        assert results == patient.refractions, patient.reference
    assert day.faults == 0
    assert day.shown == len(day.script) - 1


def test_what_went_wrong_was_told(day: Day) -> None:
    assert day.told.count("MICROPHONE MUTED") == 1
    assert day.told.count("MICROPHONE LOST: unplugged") == 1
    assert day.told.count("microphone: the same one") == 1
    assert day.told.count("kept: exam") == PATIENTS
    assert day.told.count("not kept: nothing was entered") == 1
    assert "fault" not in day.told


def test_talk_is_in_no_record(day: Day) -> None:
    texts = [line.text for record in day.records for line in record.lines.values()]
    assert "streak one eighty neutral at plus nine" in texts
    assert not any("far letter" in text for text in texts)
