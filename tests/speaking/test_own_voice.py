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


TEXTS = (
    "listening, say the eye, the streak, the lens, and what the reflex does",
    "right, streak vertical, plus three",
    "did you say streak ninety, neutral, at plus one point five",
)


@pytest.mark.sweep
def test_own_speech_through_a_real_sound_server_is_never_taken_for_somebody_elses(
    pulse: PrivatePulse,
) -> None:
    """The sink hears itself at full strength; once the canceller has learned the way, next to nothing is left."""
    child = subprocess.run(
        [sys.executable, "-m", "tests.speaking.speaking_child", *TEXTS],
        cwd=Path(__file__).parents[2],
        env=pulse.environ,
        capture_output=True,
        text=True,
        timeout=90,
        check=True,
    )

    told = json.loads(child.stdout)

    assert told["problems"] == []
    assert told["loudest_dbfs"] > -30
    assert {one["kind"] for one in told["heard"]} <= {"own", "drowned"}
