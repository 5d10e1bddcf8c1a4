"""The default engine on sound of every length that an utterance may have."""

import pytest

from tests.english import load
from voicelog.demo import demo_audio
from voicelog.hearing.endpointing import EndpointingSettings
from voicelog.hearing.engines.moonshine import MoonshineEngine
from voicelog.hearing.sources import SAMPLE_RATE_HZ, read_whole

LONGEST_S = EndpointingSettings().max_utterance_s + 1.0


@pytest.mark.parametrize("length_s", [0.1, 9.0, 9.5, LONGEST_S])
def test_sound_of_any_length_is_heard(length_s: float) -> None:
    """The decoder once took nothing longer than 9.3 s."""
    sound = read_whole(demo_audio(), max_seconds=200).samples[: int(length_s * SAMPLE_RATE_HZ)]

    hearing = MoonshineEngine(load()).hear(sound, "entry")

    assert hearing.free_log_probability is not None
    assert hearing.free_text or length_s < 1.0
