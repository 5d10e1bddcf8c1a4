"""The pre-flight on sounds whose levels are known."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.english import load
from tests.live.scripted import ScriptedSource
from voicelog.cli import check, main
from voicelog.demo import demo_audio
from voicelog.errors import MissingPartError
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.levels import Samples, amplitude
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, FileSource, read_whole
from voicelog.live.preflight import noise_floor_dbfs, report, sound_of

SEED = Path(__file__).parents[1] / "audio"


def noise(seconds: float, rms_dbfs: float) -> Samples:
    samples = np.random.default_rng(1).standard_normal(round(seconds * SAMPLE_RATE_HZ))
    return (samples * amplitude(rms_dbfs)).astype(np.float32)


def blocks(samples: Samples) -> list[Block]:
    return [Block(samples[start : start + 512], start, 0.0) for start in range(0, len(samples), 512)]


@pytest.fixture(scope="module", name="phrase")
def _phrase() -> Samples:
    """One entry of the demo, other than the sentence that is asked for."""
    heard = utterances(FileSource(demo_audio()).blocks())
    return next(one.samples for one in heard if one.index == 3)


def test_the_noise_floor_is_the_level_of_the_noise_also_under_speech(phrase: Samples) -> None:
    quiet = noise(4.0, -50.0)
    quiet[20000 : 20000 + len(phrase)] += phrase

    assert noise_floor_dbfs(quiet) == pytest.approx(-50.0, abs=1.5)


def test_muted_quiet_noisy_and_clipped_are_told_apart(
    phrase: Samples, engine: Engine, tmp_path: Path
) -> None:
    def problems(samples: Samples) -> str:
        return "; ".join(report(blocks(samples), engine, load(), tmp_path).problems)

    spoken = np.concatenate([noise(2.0, -75.0), phrase, noise(1.0, -75.0)])
    level = np.sqrt(np.mean(np.square(phrase)))

    assert "muted" in problems(np.zeros(5 * SAMPLE_RATE_HZ, np.float32))
    assert "nobody was heard" in problems(noise(3.0, -70.0))
    assert "above the noise" in problems(
        spoken + noise(len(spoken) / SAMPLE_RATE_HZ, 20 * np.log10(level) - 8)
    )
    assert "clipped" in problems(np.clip(spoken * (0.5 / level), -1, 1).astype(np.float32))
    only = problems(spoken)
    assert "was not heard as such" in only
    assert ";" not in only


def test_it_takes_the_seconds_it_was_asked_for() -> None:
    source = ScriptedSource(blocks(noise(5.0, -40.0)))

    found = sound_of(source, 2.0)

    assert sum(block.samples.size for block in found) == pytest.approx(2 * SAMPLE_RATE_HZ, abs=512)
    assert source.closed.is_set()


def test_no_sound_at_all_names_what_is_missing() -> None:
    with pytest.raises(MissingPartError, match="no sound from the microphone"):
        sound_of(ScriptedSource([]), 1.0)


def test_check_prints_its_findings(
    engine: Engine,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    phrase: Samples,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(check, "chosen_engine", lambda *_: engine)
    path = tmp_path / "said.wav"
    soundfile.write(path, np.concatenate([noise(1.0, -75.0), phrase, noise(0.6, -75.0)]), SAMPLE_RATE_HZ)

    command = ["check", "--seconds", "60", "--source", str(path)]
    assert main(command) == 2
    assert "heard        right eye (accepted)" in capsys.readouterr().out
    assert main([*command, "--json"]) == 2
    found = json.loads(capsys.readouterr().out)
    assert found["heard"] == "right eye"
    assert found["noise_floor_dbfs"] == pytest.approx(-75.0, abs=3.0)
    assert found["seconds"] == pytest.approx(len(read_whole(path).samples) / SAMPLE_RATE_HZ)
