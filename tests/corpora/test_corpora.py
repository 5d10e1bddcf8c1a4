"""The corpus makers keep their promises: halves apart, levels and decay times as stated, scripts sound."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
import soundfile

from . import demo_scenario, make_corpus, rooms, talk
from .engines import SpeechError
from .levels import RATE_HZ, active_level_dbfs, gained, rms_dbfs, trimmed
from .synthesise import Task, read_texts
from .voices import VOICES, by_name, select

HERE = Path(__file__).parent


def tone(duration_s: float, amplitude: float = 0.5) -> np.ndarray:
    time_s = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    return (amplitude * np.sin(2 * np.pi * 440 * time_s)).astype(np.float32)


@pytest.fixture
def noise_folder(tmp_path: Path) -> Path:
    rng = np.random.default_rng(3)
    for name, seconds in [("a", 5), ("b", 5), ("long", 30)]:
        soundfile.write(tmp_path / f"{name}.flac", 0.1 * rng.standard_normal(seconds * RATE_HZ), RATE_HZ)
    return tmp_path


def test_a_person_serves_one_half_only() -> None:
    halves: dict[str, set[str]] = {}
    for voice in VOICES:
        halves.setdefault(voice.speaker, set()).add(voice.split)

    assert [person for person, splits in halves.items() if len(splits) > 1] == []
    assert len({voice.name for voice in VOICES}) == len(VOICES)
    assert len({v.speaker for v in select(split="test", natural_only=True)}) >= 6
    assert len({v.speaker for v in select(split="tuning", natural_only=True)}) >= 5


def test_an_unknown_voice_is_named() -> None:
    with pytest.raises(KeyError, match="nobody"):
        by_name("nobody")


def test_active_level_leaves_silence_out() -> None:
    """A sine of amplitude a has the RMS level 20 log10(a / sqrt 2), however much silence surrounds it."""
    padded = np.pad(tone(1.0), RATE_HZ)

    assert active_level_dbfs(padded) == pytest.approx(20 * np.log10(0.5 / np.sqrt(2)), abs=0.05)


def test_gain_is_limited_before_clipping() -> None:
    assert np.max(np.abs(gained(tone(0.1), 40))) == pytest.approx(0.99, abs=1e-6)


def test_trimming_leaves_the_stated_silence() -> None:
    cut = trimmed(np.pad(tone(1.0), 2 * RATE_HZ), lead_s=0.25, tail_s=0.35)

    # The frames kept around the tone for faint consonants are at most 0.14 s together.
    assert 1.6 <= len(cut) / RATE_HZ <= 1.74


@pytest.mark.parametrize(
    "room", [rooms.CONSULTING_ROOM, rooms.REVERBERANT_ROOM, rooms.FAR_ROOM], ids=lambda room: room.name
)
def test_room_has_its_decay_time_and_direct_ratio(room: rooms.Room) -> None:
    """RT60 read off the backward-integrated energy from -5 to -25 dB (T20 of ISO 3382-2)."""
    response = rooms.impulse_response(room).astype(np.float64)
    tail = response.copy()
    tail[0] = 0
    decay_db = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1] / np.sum(tail**2) + 1e-12)
    times = np.flatnonzero((decay_db < -5) & (decay_db > -25)) / RATE_HZ
    slope = np.polyfit(times, decay_db[(decay_db < -5) & (decay_db > -25)], 1)[0]

    # 10 %: one random tail, and the six early reflections bend the first part.
    assert -60 / slope == pytest.approx(room.rt60_s, rel=0.1)
    assert 10 * np.log10(response[0] ** 2 / np.sum(tail**2)) == pytest.approx(room.direct_db, abs=0.01)


@pytest.mark.parametrize("snr_db", [20, 10, 5, 0])
def test_noise_comes_at_the_stated_ratio(noise_folder: Path, snr_db: int) -> None:
    speech = np.pad(tone(1.0, 0.1), RATE_HZ // 2)
    noise = rooms.NoiseShelf.of([noise_folder]).pick("key")

    mixed = rooms.add_noise(speech, noise, snr_db, "key")

    assert active_level_dbfs(speech) - rms_dbfs(mixed - speech) == pytest.approx(snr_db, abs=0.1)


def test_noise_halves_share_nothing(noise_folder: Path) -> None:
    halves = [rooms.NoiseShelf.of([noise_folder], half).noises for half in ("tuning", "test")]
    stretches = [{(n.path.name, n.start_s) for n in noises} for noises in halves]

    assert stretches[0]
    assert stretches[1]
    assert stretches[0].isdisjoint(stretches[1])
    assert all(n.start_s == n.stop_s == 0 or n.stop_s - n.start_s == 15 for half in halves for n in half)


def test_no_noise_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="no noise"):
        rooms.NoiseShelf.of([tmp_path])


def test_each_voice_says_its_share_of_the_phrases() -> None:
    voices = select(split="tuning")[:3]
    tasks = make_corpus.plan(list("abcde"), voices, Path("out"), each=2)

    assert ["".join(t.text for t in tasks if t.voice == voice) for voice in voices] == ["ab", "cd", "ea"]


def test_file_name_follows_text_and_voice() -> None:
    voice, other = VOICES[:2]
    paths = {Task(text, v, Path("out")).path for text in ("one", "two") for v in (voice, other)}

    assert len(paths) == 4


def test_talk_is_whole_and_is_no_phrase() -> None:
    spoken = [turn.text for turn in talk.sentences()]
    phrases = set(read_texts(HERE / "phrases_exam.txt"))

    assert len(spoken) == len(set(spoken)) == 200
    assert not {text.strip(".?!").lower() for text in spoken} & phrases


def test_every_slot_can_be_filled() -> None:
    for exchange in talk.exchanges():
        for turn in exchange:
            assert "{" not in talk.filled(turn.text, random.Random(0))


def test_dialogue_lasts_as_long_as_asked() -> None:
    scenes = talk.plan(20, select(), Path("clips"), seed=1)
    planned_s = [
        sum(p.pause_s + talk.SECONDS_A_WORD * len(p.task.text.split()) for p in scene.placed)
        for scene in scenes
    ]

    assert len(scenes) == 2
    assert all(talk.FILE_S <= seconds < talk.FILE_S + 30 for seconds in planned_s)
    for scene in scenes:
        examiner, patient = scene.pair
        assert examiner.split == patient.split
        assert examiner.speaker != patient.speaker


def test_dialogue_needs_two_people() -> None:
    """Two engines with the same person's voice are one person."""
    with pytest.raises(SpeechError, match="two people"):
        talk.plan(10, select("flite-slt,festival-slt-hts"), Path("clips"), seed=1)


def test_demo_script_has_a_voice_for_every_line() -> None:
    lines = demo_scenario.script()

    assert {line.role for line in lines} == set(demo_scenario.ROLES)
    assert sum(line.text == "scratch that" for line in lines) == 1
