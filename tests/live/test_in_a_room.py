"""The demo spoken in a room with a loudspeaker: its echo costs no entry and makes none."""

import os

import numpy as np
import pytest
from rich.console import Console

from tests.corpora.demo_scenario import TRUTH, script
from tests.live.room import Room, impulse_response
from tests.live.test_capture_exam import demo_samples, meant
from tests.speaking.test_canceller import rms
from voicelog.errors import MissingPartError
from voicelog.exam.events import Line
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.live.exam import Ended, LiveExam
from voicelog.live.options import LiveOptions
from voicelog.session import Session
from voicelog.settings import Settings
from voicelog.speaking.voice import SystemVoice

OWN_RMS = 0.1
"""What words at the usual volume come to: speech peaks at about five times its rms (0.5)."""


@pytest.fixture(autouse=True)
def _needs_a_voice() -> None:
    try:
        SystemVoice().close()
    except MissingPartError as error:
        pytest.skip(str(error))


def room_with(said: Samples, level_db: float, seed: int, examiner: Samples | None = None) -> Room:
    """A room where the program's voice comes back at a level against the examiner's (None: `said` is it)."""
    random = np.random.default_rng(seed)
    way = impulse_response(random, latency_s=0.03 + 0.12 * random.random(), room_s=0.06)
    return Room(
        said,
        way * np.float32(rms(said if examiner is None else examiner) * 10 ** (level_db / 20) / OWN_RMS),
        seed=seed,
    )


def exam_in(room: Room, engine: Engine, **options: object) -> Ended:
    """An exam in a room until its sound ends."""
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        exam = LiveExam(
            Session(Settings(), engine=engine),
            engine,
            LiveOptions(**options),  # type: ignore[arg-type]
            Console(file=nowhere, force_terminal=True),
            source=room,
            plays=room.plays,
        )
        room.exam = exam
        return exam.run()


def dictated(engine: Engine, said: Samples, level_db: float, seed: int, **options: object) -> Ended:
    """An exam of what is said, whoever listens."""
    silence = np.zeros(3 * SAMPLE_RATE_HZ, np.float32)
    return exam_in(room_with(np.concatenate([said, silence]), level_db, seed), engine, **options)


def entered(ended: Ended) -> list[object]:
    return [
        meaning.model_dump(mode="json")
        for event in ended.state.events
        if isinstance(event, Line) and event.outcome == "accepted"
        for meaning in event.meanings
    ]


EXAMINER = [line.text for line in script() if line.role == "examiner"]


@pytest.mark.sweep
def test_the_beginning_of_the_demo_with_its_echo_as_loud_as_the_examiner(engine: Engine) -> None:
    """Every line as it was said, nothing asked, nothing made of the program's own words."""
    ended = dictated(engine, demo_samples()[: 38 * SAMPLE_RATE_HZ], 0.0, 1)

    found = entered(ended)
    assert len(found) >= 4
    assert found == meant(*EXAMINER)[: len(found)]
    assert not [each for each in ended.state.events if isinstance(each, Line) and each.outcome == "asked"]
    assert ended.counts.faults == 0


@pytest.mark.sweep
@pytest.mark.parametrize("level_db", [-18.0, -12.0, 0.0])
@pytest.mark.parametrize("seed", range(10))
def test_the_whole_demo(engine: Engine, level_db: float, seed: int) -> None:
    ended = dictated(engine, demo_samples(), level_db, seed)

    assert entered(ended) == meant(*EXAMINER)
    assert not [each for each in ended.state.events if isinstance(each, Line) and each.outcome == "asked"]
    for eye, truth in TRUTH.items():
        net = ended.state.eyes[eye].solution.net  # type: ignore[index]
        assert net is not None
        assert (net.sphere_d, net.cylinder_d, net.axis_deg) == (
            truth.sphere_d,
            truth.cylinder_d,
            truth.axis_deg,
        )
