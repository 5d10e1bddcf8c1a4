"""All that is held is looked through in pauses: never while something is recognised or entered."""

import gc
import time
from collections.abc import Iterator

import pytest

from tests.live.scripted import Recorder, ScriptedEndpointer, ScriptedSource, block, utterance
from voicelog.hearing.sources import Block
from voicelog.live import garbage
from voicelog.live.listening import Listening

_PATIENCE_S = 20.0
_PAUSE_S = 1.5
"""Long enough for a look on a busy machine: it comes 0.3 s after the work, which may take half a second there."""


def test_all_that_is_held_is_looked_through_in_pauses_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """So much is kept of each utterance here that Python would look by itself in the middle of the next."""
    monkeypatch.setattr(garbage, "gc", gc)
    gc.unfreeze()
    kept: list[list[list[int]]] = []
    working = False
    looked: list[tuple[int, bool]] = []
    put_aside: list[int] = []

    def keep() -> None:
        nonlocal working
        working = True
        put_aside.append(gc.get_freeze_count())
        kept.append([[number] for number in range(400_000)])
        working = False

    def note(phase: str, info: dict[str, int]) -> None:
        if phase == "start" and info["generation"] == 2:
            looked.append((len(kept), working))

    def blocks() -> Iterator[Block]:
        for number in range(3):
            yield block(number)
            time.sleep(_PAUSE_S)

    finishes = {number: utterance(number, 9000 * number, 9000 * number + 5000) for number in range(3)}
    listening = Listening(ScriptedSource(blocks()), Recorder(keep), endpointer=ScriptedEndpointer(finishes))
    usual = gc.get_threshold()
    gc.set_threshold(*usual[:2], 10)
    before = gc.get_threshold()
    gc.callbacks.append(note)
    try:
        listening.start()
        assert listening.wait(_PATIENCE_S)
    finally:
        gc.callbacks.remove(note)
        after, still_aside = gc.get_threshold(), gc.get_freeze_count()
        gc.set_threshold(*usual)
        gc.freeze()  # as the run had it

    assert len(kept) == 3
    assert not any(at_work for _, at_work in looked)
    assert looked, "nobody looked in the pauses"
    assert after == before
    assert all(put_aside)
    assert still_aside == 0
