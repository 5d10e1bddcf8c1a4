"""The program's own read-back, played into its own microphone at speaking volume, is heard and not trusted."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.hearing.pulse import PrivatePulse
from voicelog.errors import MissingPartError
from voicelog.speaking.voice import SystemVoice


@pytest.fixture(autouse=True)
def _needs_a_voice() -> None:
    try:
        SystemVoice().close()
    except MissingPartError as error:
        pytest.skip(str(error))


def test_own_speech_is_heard_as_an_utterance_of_which_nothing_is_left(pulse: PrivatePulse) -> None:
    child = subprocess.run(
        [sys.executable, "-m", "tests.speaking.speaking_child", "right, streak vertical, plus three"],
        cwd=Path(__file__).parents[2],
        env=pulse.environ,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )

    told = json.loads(child.stdout)

    assert told["problems"] == []
    assert len(told["heard"]) >= 1
    assert sum(one["length_s"] for one in told["heard"]) > 1.0
    assert all(one["rms_dbfs"] > -30 for one in told["heard"])
    assert [(one["overlaps"], one["left_over"]) for one in told["heard"]] == [(True, False)] * len(
        told["heard"]
    )
