"""Runs: what is heard once is not heard again, what was broken off goes on, and talk is cut as in an exam."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.english import ENGLISH, load
from tests.hearing.packed import clips
from tests.measuring.made_up import heard
from voicelog.hearing.decision import decide
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.errors import AudioError
from voicelog.hearing.sources import SAMPLE_RATE_HZ, FileSource
from voicelog.measuring import running
from voicelog.measuring.cache import WHOLE_FILE, HearingCache, HearingKey, sound_mark
from voicelog.measuring.listeners import Task
from voicelog.measuring.manifests import EXAM_RULES, Expecting, Row, read_manifest
from voicelog.measuring.running import Progress, Run


@pytest.fixture(name="folder", scope="module")
def _folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A corpus of three phrases and one long recording of talk, from the packed recordings of the tests."""
    folder = tmp_path_factory.mktemp("corpus")
    lines = ["path\ttranscript\tspeaker"]
    natural = (clip for clip in clips("readings") if clip[0].startswith("kokoro-"))
    for at, (speaker, transcript, samples) in zip(range(3), natural, strict=False):
        soundfile.write(folder / f"{at}.flac", samples, SAMPLE_RATE_HZ)
        lines.append(f"{at}.flac\t{transcript}\t{speaker}")
    pause = np.zeros(SAMPLE_RATE_HZ, np.float32)
    few = (samples for _, (_, _, samples) in zip(range(20), clips("talk"), strict=False))
    short = sorted(few, key=len)[5:7]
    talk = [piece for samples in short for piece in (samples, pause)]
    soundfile.write(folder / "talk.flac", np.concatenate(talk), SAMPLE_RATE_HZ)
    (folder / "manifest.tsv").write_text("\n".join([*lines, "talk.flac\t\tpat"]) + "\n", encoding="utf-8")
    return folder


class Scripted:
    """In the place of the listeners: notes what it is asked, and gives up where it is told to."""

    asked: list[Task] = []  # noqa: RUF012  (one for all, for a run makes its own)
    stop_at: int | None = None

    def __init__(self, grammar: object, names: tuple[str, ...]) -> None:
        self.names = names

    def hear(self, task: Task) -> dict[str, Hearing]:
        if len(self.asked) == self.stop_at:
            raise KeyboardInterrupt
        self.asked.append(task)
        text = f"streak {len(self.asked) + 9} with"
        return {name: replace(heard((text, -1.0)), engine=name) for name in task.listeners}


@pytest.fixture(name="scripted")
def _scripted(monkeypatch: pytest.MonkeyPatch) -> type[Scripted]:
    monkeypatch.setattr(running, "Listeners", Scripted)
    monkeypatch.setattr(Scripted, "asked", [])
    return Scripted


def rows_of(folder: Path) -> list[Row]:
    return read_manifest(folder, Expecting(load()))


def run_of(folder: Path, cache: Path, *names: str, renew: bool = False) -> Run:
    return Run(rows_of(folder), names or ("moonshine",), HearingCache(cache), load(), renew=renew)


def test_talk_is_cut_as_in_an_exam_and_phrases_are_left_whole(
    folder: Path, tmp_path: Path, scripted: type[Scripted]
) -> None:
    run = run_of(folder, tmp_path / "c.jsonl")
    run.hear()
    *phrases, talk = run.cases("moonshine")
    cut = list(utterances(FileSource(folder / "talk.flac").blocks()))

    assert [task.as_one for task in scripted.asked] == [True] * 3 + [False] * len(cut)
    assert [len(case.heard) for case in phrases] == [1, 1, 1]
    assert len(talk.heard) == len(cut) >= 2
    for task, utterance in zip(scripted.asked[3:], cut, strict=True):
        assert np.array_equal(task.samples, utterance.samples)
    assert talk.length_s == pytest.approx(soundfile.info(folder / "talk.flac").duration)


def test_nothing_is_heard_twice(folder: Path, tmp_path: Path, scripted: type[Scripted]) -> None:
    first = run_of(folder, tmp_path / "c.jsonl")
    first.hear()
    cases = first.cases("free")
    scripted.asked.clear()
    again = run_of(folder, tmp_path / "c.jsonl", "moonshine", "free")

    assert again.hear().heard == 0
    assert scripted.asked == []
    assert again.cases("free") == cases
    assert again.stale() == 0
    assert run_of(folder, tmp_path / "c.jsonl", renew=True).hear().heard == 0


def test_a_further_listener_is_given_what_the_first_has_heard(
    folder: Path, tmp_path: Path, scripted: type[Scripted]
) -> None:
    run_of(folder, tmp_path / "c.jsonl").hear()
    cases = run_of(folder, tmp_path / "c.jsonl").cases("moonshine")
    known = [each.hearing for case in cases for each in case.heard]
    scripted.asked.clear()
    run_of(folder, tmp_path / "c.jsonl", "moonshine", "normal").hear()

    assert {task.listeners for task in scripted.asked} == {("normal",)}
    assert [task.first for task in scripted.asked] == known


@pytest.mark.parametrize("stop_at", [1, 4])
def test_a_run_broken_off_goes_on_where_it_stopped(
    folder: Path, tmp_path: Path, scripted: type[Scripted], monkeypatch: pytest.MonkeyPatch, stop_at: int
) -> None:
    whole = run_of(folder, tmp_path / "whole.jsonl").hear().heard
    scripted.asked.clear()
    monkeypatch.setattr(scripted, "stop_at", stop_at)
    with pytest.raises(KeyboardInterrupt):
        run_of(folder, tmp_path / "c.jsonl").hear()
    monkeypatch.setattr(scripted, "stop_at", None)
    broken_off = run_of(folder, tmp_path / "c.jsonl")
    with pytest.raises(KeyError):
        broken_off.cases("moonshine")

    assert broken_off.hear().heard == whole - stop_at
    assert len(broken_off.cases("moonshine")) == 4


def test_hearings_of_another_version_are_counted_and_made_anew_on_demand(
    folder: Path, tmp_path: Path, scripted: type[Scripted], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = run_of(folder, tmp_path / "c.jsonl").hear().heard
    monkeypatch.setattr(running, "code_marks", lambda grammar: {"moonshine": "another"})

    assert run_of(folder, tmp_path / "c.jsonl").hear().heard == 0
    assert run_of(folder, tmp_path / "c.jsonl").stale() == made

    renewed = run_of(folder, tmp_path / "c.jsonl", renew=True)
    assert renewed.hear().heard == made
    assert renewed.stale() == run_of(folder, tmp_path / "c.jsonl").stale() == 0


def test_the_same_sound_in_two_rows_is_heard_once(
    folder: Path, tmp_path: Path, scripted: type[Scripted]
) -> None:
    rows = rows_of(folder)[:1] * 3
    run = Run(rows, ("moonshine",), HearingCache(tmp_path / "c.jsonl"), load())

    assert run.hear().heard == 1
    assert len(run.cases("moonshine")) == 3


def test_what_another_version_heard_first_is_not_built_upon(
    folder: Path, tmp_path: Path, scripted: type[Scripted], monkeypatch: pytest.MonkeyPatch
) -> None:
    run_of(folder, tmp_path / "c.jsonl").hear()
    monkeypatch.setattr(running, "code_marks", lambda grammar: {"moonshine": "another", "normal": "another"})
    scripted.asked.clear()
    run_of(folder, tmp_path / "c.jsonl", "normal").hear()

    assert {task.first for task in scripted.asked} == {None}


def test_a_recording_that_cannot_be_used_is_named(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "bad.flac").write_bytes(b"no sound")
    row = replace(rows_of(folder)[0], path=tmp_path / "bad.flac")

    with pytest.raises(AudioError, match=r"bad\.flac: not readable as audio"):
        Run([row], ("moonshine",), HearingCache(tmp_path / "c.jsonl"), load()).hear()


@pytest.mark.sweep
def test_real_listeners_in_two_processes(folder: Path, tmp_path: Path) -> None:
    """Phrases and talk through the real models; what comes from other processes is complete."""
    told: list[Progress] = []
    run = run_of(folder, tmp_path / "c.jsonl", "moonshine", "normal", "free")
    progress = run.hear(2, told.append)
    *phrases, talk = run.cases("normal")

    assert progress.heard == len(told) == 3 + len(talk.heard)
    right = [
        case
        for case in phrases
        if case.heard[0].hearing.hypotheses
        and case.heard[0].hearing.hypotheses[0].meanings == case.row.expected
    ]
    assert len(right) >= 2
    assert [decide(each.hearing, ENGLISH) for each in talk.heard] == ["ignored"] * len(talk.heard)
    cache = HearingCache(tmp_path / "c.jsonl")
    for case in phrases:
        sound = sound_mark(case.row.path)
        first, both = (
            cache.hearing(HearingKey(sound, EXAM_RULES, name, WHOLE_FILE)) for name in ("moonshine", "normal")
        )
        assert first is not None
        assert both is not None
        assert both.hypotheses == first.hypotheses
        assert both.seconds >= first.seconds > 0
