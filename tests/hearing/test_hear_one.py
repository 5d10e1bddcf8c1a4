"""One file as one utterance: what is longer than the end-pointer's longest is cut, and says so."""

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.session.test_session import hearing
from voicelog.cli import hear, main
from voicelog.hearing.endpointing import EndpointingSettings, utterances
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.hear_one import PADDING_S, hear_one
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, read_whole
from voicelog.session import Session

TWO_PHRASES = Path(__file__).with_name("audio") / "two_phrases.flac"
LONGEST_S = EndpointingSettings().max_utterance_s
Written = Callable[[Samples], Path]


class Sure:
    """An engine that is sure of one phrase, whatever it is given."""

    name = "sure"

    def __init__(self) -> None:
        self.seconds: list[float] = []

    def hear(self, samples: Samples, rule: str) -> Hearing:
        self.seconds.append(len(samples) / SAMPLE_RATE_HZ)
        return hearing("right eye")


@pytest.fixture(name="written")
def _written(tmp_path: Path) -> Written:
    def write(samples: Samples) -> Path:
        soundfile.write(tmp_path / "said.wav", samples, SAMPLE_RATE_HZ)
        return tmp_path / "said.wav"

    return write


def phrases() -> Samples:
    return read_whole(TWO_PHRASES).samples


def without_end() -> Samples:
    """Forty seconds in which somebody speaks without a pause of half a second."""
    spoken = [each.samples for each in utterances([Block(phrases(), 0, 0.0)])]
    return np.resize(np.concatenate(spoken), 40 * SAMPLE_RATE_HZ)


def test_a_file_that_is_one_utterance_is_heard_whole(written: Written) -> None:
    engine = Sure()

    heard = hear_one(engine, written(phrases()), "entry")

    assert heard.cut_s is None
    assert engine.seconds == [pytest.approx(len(phrases()) / SAMPLE_RATE_HZ + 2 * PADDING_S)]


def test_a_phrase_in_a_long_silence_is_heard_whole(written: Written) -> None:
    engine, silence = Sure(), np.zeros(20 * SAMPLE_RATE_HZ, np.float32)

    heard = hear_one(engine, written(np.concatenate([silence, phrases(), silence])), "entry")

    assert heard.cut_s is None
    assert engine.seconds[0] < len(phrases()) / SAMPLE_RATE_HZ + 2 * PADDING_S


def test_what_is_longer_is_cut_and_asked(
    written: Written, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    engine = Sure()
    monkeypatch.setattr(hear, "chosen_engine", lambda *_: engine)
    path = str(written(without_end()))

    assert main(["hear", path]) == 0
    assert main(["hear", "--json", path]) == 0

    words, found = capsys.readouterr().out.splitlines()
    cut_s = json.loads(found)["cut_s"]
    assert LONGEST_S / 2 < cut_s <= LONGEST_S + 1
    assert json.loads(found)["outcome"] == "asked"
    assert words.endswith(
        f"asked: right eye (cut at {cut_s:.1f} s: too long for one utterance, the rest is not heard)"
    )
    assert max(engine.seconds) <= LONGEST_S + 2 * PADDING_S


def test_nothing_of_what_was_cut_is_entered_without_a_question() -> None:
    engine = Sure()
    session = Session(engine=engine)

    lines = [session.hear(each) for each in utterances([Block(without_end(), 0, 0.0)])]

    assert len(engine.seconds) >= 3
    assert max(engine.seconds) <= LONGEST_S + 2 * PADDING_S
    assert {line.outcome for line in lines} == {"asked"}
    assert [act for line in lines for act in line.acts] == []
