"""Words that begin a little after every entry, while its tone or its read-back still sounds, are heard."""

from collections import deque

import numpy as np
import pytest

from tests.english import load
from tests.live.room import Room
from tests.live.test_capture_exam import demo_samples, meant
from tests.live.test_in_a_room import EXAMINER, exam_in, room_with
from voicelog.errors import MissingPartError
from voicelog.exam.events import Line
from voicelog.hearing.decision import decide
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.speaking.voice import SystemVoice

GAPS_S = (0.2, 0.6, 1.0, 1.5, 2.0)
LEVELS_DB = (-18.0, -12.0, 0.0)
GREETING_S = 5.0


class Dictation:
    """Says the next line so long after whatever comes of the one before; it hears when that is."""

    def __init__(self, room: Room, clips: list[Samples], gap_s: float) -> None:
        self._room, self._left, self._gap = room, deque(clips), round(gap_s * SAMPLE_RATE_HZ)
        self._lines, self._next, self.said = 1, round(GREETING_S * SAMPLE_RATE_HZ), 0

    def __call__(self, start: int) -> None:
        assert self._room.exam is not None
        lines = self._room.exam.lines
        if lines > self._lines:
            self._lines, self._next = lines, start + self._gap
        if self._left and start >= self._next:
            clip = self._left.popleft()
            self._room.said[start : start + clip.size] += clip
            self._next = start + clip.size + 4 * SAMPLE_RATE_HZ  # nothing came of it: it goes on
            self.said += 1


@pytest.fixture(scope="module", name="clips")
def _clips(engine: Engine) -> list[Samples]:
    """The examiner's lines of the demo, each as it is cut out."""
    found = []
    for one in utterances([Block(demo_samples(), 0, 0.0)]):
        if decide(engine.hear(one.samples, "line in_hand"), load().language) == "accepted":
            found.append(one.samples)
    assert len(found) == len(meant(*EXAMINER))
    return found


@pytest.mark.sweep
@pytest.mark.parametrize("read_back", ["changes", "full"])
def test_words_begun_soon_after_every_entry(
    engine: Engine, clips: list[Samples], read_back: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """19 of 20 are heard as they were said, over all levels and pauses; what is not has its row."""
    try:
        SystemVoice().close()
    except MissingPartError as error:
        pytest.skip(str(error))
    said = heard = 0
    for seed, (level_db, gap_s) in enumerate((level, gap) for level in LEVELS_DB for gap in GAPS_S):
        floor = np.random.default_rng(seed).standard_normal(130 * SAMPLE_RATE_HZ).astype(np.float32) * 3e-4
        room = room_with(floor, level_db, seed, np.concatenate(clips))
        dictation = Dictation(room, clips, gap_s)
        room.on_block = dictation
        ended = exam_in(room, engine, read_back=read_back)

        lines = [each for each in ended.state.events if isinstance(each, Line)]
        meanings = [m.model_dump(mode="json") for each in lines for m in each.meanings]
        wanted = meant(*EXAMINER)
        found = sum(each in meanings for each in wanted)
        with capsys.disabled():
            told = [(each.outcome, each.left_out, each.text) for each in lines if each.outcome != "accepted"]
            print(f"\n{read_back} {level_db:g} dB {gap_s:g} s: {found}/{len(wanted)} {told}")
        said, heard = said + len(wanted), heard + found
        assert dictation.said == len(clips)
        assert len(lines) >= len(clips), "something that was said has no row"
        assert ended.counts.faults == 0
    assert heard >= 0.95 * said
