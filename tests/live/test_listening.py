"""The loop: every utterance once and in order, whatever the recogniser, the microphone and the speaker do."""

import threading
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.live.scripted import Recorder, ScriptedEndpointer, ScriptedSource, block, utterance
from voicelog.exam.events import Line
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, FileSource, read_whole
from voicelog.hearing.utterance import Utterance
from voicelog.live.listening import WAITING_LIMIT, Listening, Told
from voicelog.record.errors import CannotFollowError
from voicelog.record.storing import NotKeptError
from voicelog.speaking.clocks import Clock
from voicelog.speaking.judging import Judged
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.own_sound import OwnSound

TWO_PHRASES = Path(__file__).parents[1] / "hearing" / "audio" / "two_phrases.flac"
PATIENCE_S = 20.0


def run(listening: Listening) -> Listening:
    listening.start()
    assert listening.wait(PATIENCE_S)
    return listening


def test_a_recording_gives_the_utterances_of_the_end_pointer_once_and_in_order() -> None:
    recorder = Recorder()
    expected = list(utterances(FileSource(TWO_PHRASES).blocks()))

    run(Listening(FileSource(TWO_PHRASES), recorder))

    assert [(one.index, one.span) for _, one in recorder.taken] == [(one.index, one.span) for one in expected]
    assert len(recorder.threads) == 1


def test_at_real_pace_recognition_is_done_in_the_pause_that_ends_an_utterance() -> None:
    """Each utterance is recognised once, from its draft, and taken no earlier than its pause is over."""
    recorder = Recorder()
    entered_s: list[float] = []
    listening = Listening(FileSource(TWO_PHRASES, "real"), recorder)
    take = recorder.take

    def timed(heard: Hearing, one: Utterance) -> Line:
        entered_s.append(time.monotonic() - one.end_arrived_s)
        return take(heard, one)

    recorder.take = timed  # type: ignore[method-assign]
    run(listening)

    assert listening.counts.utterances == listening.counts.drafts_used == len(recorder.recognised) == 2
    assert entered_s[0] > 0.47


def test_what_was_heard_in_the_draft_says_how_long_the_pause_is() -> None:
    """The end-pointer is told of the draft; where nothing is known it is left alone."""
    told: list[tuple[Utterance, float]] = []
    drafts = {0: utterance(0, 0, 5000), 1: utterance(1, 9000, 12000)}
    endpointer = ScriptedEndpointer({}, drafts)
    endpointer.wait = lambda draft, silence_s: told.append((draft, silence_s))  # type: ignore[method-assign]
    recorder = Recorder()
    recorded = threading.Semaphore(0)

    def blocks() -> Iterator[Block]:
        for at in range(2):
            yield block(at)
            assert recorded.acquire(timeout=PATIENCE_S)

    def patience_s(heard: Hearing) -> float | None:
        recorded.release()
        return 0.3 if heard.free_text == "other talk 1" else None

    run(Listening(ScriptedSource(blocks()), recorder, endpointer=endpointer, patience_s=patience_s))

    assert told == [(drafts[0], 0.3)]


def test_a_draft_that_went_on_is_void() -> None:
    recorder, recognised = Recorder(), threading.Event()
    recorder._before = recognised.set
    draft, whole = utterance(0, 0, 5000), utterance(0, 0, 9000)

    def blocks() -> Iterator[Block]:
        yield block(0)
        assert recognised.wait(PATIENCE_S)
        yield block(1)

    listening = Listening(
        ScriptedSource(blocks()),
        recorder,
        endpointer=ScriptedEndpointer({1: whole}, {0: draft}),
    )
    run(listening)

    assert [samples.size for samples in recorder.recognised] == [5000, 9000]
    ((heard, one),) = recorder.taken
    assert one is whole
    assert heard.free_text == "other talk 2"
    assert (listening.counts.drafts, listening.counts.drafts_used) == (1, 0)


def test_capture_does_not_wait_for_the_recogniser() -> None:
    may_go_on = threading.Event()
    recorder = Recorder(lambda: may_go_on.wait(PATIENCE_S))
    source = ScriptedSource(block(i) for i in range(200))
    finishes = {10 * i: utterance(i, 5120 * i, 5120 * i + 4000) for i in range(20)}
    listening = Listening(source, recorder, endpointer=ScriptedEndpointer(finishes))

    listening.start()
    assert source.ended.wait(PATIENCE_S)
    assert recorder.taken == []
    may_go_on.set()
    assert listening.wait(PATIENCE_S)

    assert [one.index for _, one in recorder.taken] == list(range(20))


def test_the_queue_is_bounded_and_what_does_not_fit_waits_in_the_source() -> None:
    may_go_on = threading.Event()
    recorder = Recorder(lambda: may_go_on.wait(PATIENCE_S))
    count = 3 * WAITING_LIMIT
    source = ScriptedSource(block(i) for i in range(count))
    finishes = {i: utterance(i, 512 * i, 512 * i + 500) for i in range(count)}
    listening = Listening(source, recorder, endpointer=ScriptedEndpointer(finishes))

    listening.start()
    deadline_s = time.monotonic() + PATIENCE_S
    while source.given < WAITING_LIMIT and time.monotonic() < deadline_s:
        time.sleep(0.01)
    assert not source.ended.wait(0.3)
    assert WAITING_LIMIT <= source.given <= WAITING_LIMIT + 2
    may_go_on.set()
    assert listening.wait(PATIENCE_S)

    assert [one.index for _, one in recorder.taken] == list(range(count))
    assert listening.counts.most_waiting == WAITING_LIMIT


def test_a_gap_neither_loses_nor_doubles_and_the_cut_utterance_is_not_whole() -> None:
    """The microphone goes in the middle of the second phrase and comes back; what was said before is kept."""
    sound = read_whole(TWO_PHRASES).samples
    first, second = utterances(FileSource(TWO_PHRASES).blocks())
    cut = (second.start_sample + second.end_sample) // 2
    away = 5 * SAMPLE_RATE_HZ
    blocks = [
        Block(sound[:cut], 0, 0.0),
        Block(np.zeros(0, np.float32), cut, 0.0, after_gap=True),
        Block(sound, cut + away, 0.0, after_gap=True),
    ]
    recorder = Recorder()

    run(Listening(ScriptedSource(blocks), recorder))

    heard = [one for _, one in recorder.taken]
    assert [one.whole for one in heard] == [True, False, True, True]
    assert heard[0].span == first.span
    assert heard[1].end_sample <= cut
    assert [one.start_sample - cut - away for one in heard[2:]] == pytest.approx(
        [first.start_sample, second.start_sample], abs=1024
    )
    assert [one.index for one in heard] == [0, 1, 2, 3]


def test_close_enters_what_was_heard_and_ends() -> None:
    """Closed in the middle of the first phrase: that much of it is entered, and no more is listened to."""
    recorder = Recorder()
    sound = list(FileSource(TWO_PHRASES).blocks())
    first = next(utterances(sound))
    middle = (first.start_sample + first.end_sample) // 2
    listening: Listening

    def blocks() -> Iterator[Block]:
        for each in sound:
            yield each
            if each.end_sample >= middle:
                listening.close()

    listening = Listening(ScriptedSource(blocks()), recorder)
    run(listening)

    (only,) = [one for _, one in recorder.taken]
    assert middle - 1024 <= only.end_sample <= middle + 1024


def test_typed_lines_are_entered_in_the_same_thread_after_what_was_said_before() -> None:
    recorder = Recorder()
    listening: Listening

    def blocks() -> Iterator[Block]:
        yield block(0)
        listening.type_line("typed")
        yield block(1)
        yield block(2)

    finishes = {0: utterance(0, 0, 500), 2: utterance(1, 600, 900)}
    listening = Listening(
        ScriptedSource(blocks()),
        recorder,
        endpointer=ScriptedEndpointer(finishes),
    )
    run(listening)

    assert recorder.order == ["utterance 0", "typed", "utterance 1"]
    assert len(recorder.threads) == 1


def test_what_can_never_be_kept_is_told_of_and_the_exam_goes_on() -> None:
    problems: list[str] = []

    class Attested(Recorder):
        def take(self, heard: Hearing, one: Utterance) -> Line:
            if one.index == 0:
                raise NotKeptError(CannotFollowError("attested"))
            return super().take(heard, one)

    recorder = Attested()
    finishes = {i: utterance(i, 512 * i, 512 * i + 500) for i in range(2)}
    run(
        Listening(
            ScriptedSource(block(i) for i in range(3)),
            recorder,
            endpointer=ScriptedEndpointer(finishes),
            told=Told(problem=problems.append),
        )
    )

    assert recorder.order == ["lost", "utterance 1"]
    assert problems == []


def test_a_fault_of_the_recogniser_costs_one_utterance_which_has_its_row() -> None:
    faults: list[BaseException] = []

    def fault() -> None:
        if len(recorder.recognised) == 1 and len(faults) < 2:
            raise ZeroDivisionError("fault")

    recorder = Recorder(fault)
    finishes = {i: utterance(i, 512 * i, 512 * i + 500) for i in range(3)}
    listening = Listening(
        ScriptedSource(block(i) for i in range(3)),
        recorder,
        endpointer=ScriptedEndpointer(finishes),
        told=Told(fault=faults.append),
    )
    run(listening)

    assert recorder.order == ["utterance 0", "lost", "utterance 2"]
    assert listening.counts.faults == len(faults) == 2


def test_a_fault_that_passes_costs_nothing() -> None:
    faults: list[BaseException] = []

    def fault() -> None:
        if not faults:
            raise ZeroDivisionError("fault")

    recorder = Recorder(fault)
    run(
        Listening(
            ScriptedSource([block(0)]),
            recorder,
            endpointer=ScriptedEndpointer({0: utterance(0, 0, 500)}),
            told=Told(fault=faults.append),
        )
    )

    assert recorder.order == ["utterance 0"]


def test_a_source_that_fails_ends_a_recording_and_a_microphone_is_opened_again() -> None:
    """What was heard before is entered in either case."""

    class FailsOnce(ScriptedSource):
        def blocks(self) -> Iterator[Block]:
            if self.given == 0:
                self.given = 1
                yield block(0)
                raise ZeroDivisionError("fault")
            yield block(1)

    finishes = {0: utterance(0, 0, 500), 1: utterance(1, 600, 900)}
    for opens_again in (False, True):
        recorder = Recorder()
        endpointer = ScriptedEndpointer(finishes)
        listening = Listening(FailsOnce([]), recorder, endpointer=endpointer, opens_again=opens_again)
        listening.start()
        if opens_again:
            assert listening.wait(PATIENCE_S)
            assert recorder.order == ["utterance 0", "utterance 1"]
        else:
            with pytest.raises(ZeroDivisionError, match="fault"):
                listening.wait(PATIENCE_S)
            assert recorder.order == ["utterance 0"]


class Judge(OwnSound):
    """Says of each utterance what a test says; `talked_over` for each block whether somebody talks over the voice."""

    def __init__(self, judged: dict[int, Judged], talked_over: Iterable[bool] = ()) -> None:
        super().__init__(Mixer(16000), Clock(16000))
        self._judged, self._talked_over = judged, iter(talked_over)

    def cleaned(self, block: Block) -> Iterator[Block]:
        yield block

    def judge(self, utterance: Utterance) -> Judged:
        return self._judged.get(utterance.index, Judged("clear", utterance))

    def settle(self, utterance: Utterance) -> list[Judged]:
        return [self.judge(utterance)]

    @property
    def barged_in(self) -> bool:
        return next(self._talked_over, False)


def test_own_speech_is_no_entry_and_words_over_and_after_it_are() -> None:
    own, over, both, drowned, after = (utterance(i, 20000 * i, 20000 * i + 16000) for i in range(5))
    rest = both.after(both.start_sample + 8000)
    judge = Judge(
        {
            0: Judged("own", None),
            1: Judged("over", over),
            2: Judged("rest", rest),
            3: Judged("drowned", drowned, "plus three"),
        }
    )
    recorder = Recorder()
    finishes = dict(enumerate((own, over, both, drowned, after)))

    listening = run(
        Listening(
            ScriptedSource(block(i) for i in range(5)),
            recorder,
            own=judge,
            endpointer=ScriptedEndpointer(finishes),
        )
    )

    assert [one for _, one in recorder.taken] == [over, rest, after]
    assert recorder.order == ["utterance 1", "utterance 2", "missed 3: over_speech", "utterance 4"]
    assert (listening.counts.own_speech, listening.counts.over_speech) == (1, 1)


def test_who_talks_over_the_programs_voice_stops_it_once() -> None:
    told: list[str] = []

    class Speaking(ScriptedEndpointer):
        in_speech = True

    run(
        Listening(
            ScriptedSource(block(i) for i in range(6)),
            Recorder(),
            own=Judge({}, [False, True, True, False, True, False]),
            endpointer=Speaking({}),
            told=Told(barge_in=lambda: told.append("barge-in")),
        )
    )

    assert told == ["barge-in", "barge-in"]


def test_sound_that_cannot_be_cleaned_is_heard_as_it_is() -> None:
    class Failing(Judge):
        def cleaned(self, block: Block) -> Iterator[Block]:
            raise ZeroDivisionError("fault")
            yield block

    recorder = Recorder()
    listening = run(
        Listening(
            ScriptedSource([block(0)]),
            recorder,
            own=Failing({}),
            endpointer=ScriptedEndpointer({0: utterance(0, 0, 500)}),
        )
    )

    assert recorder.order == ["utterance 0"]
    assert listening.counts.faults == 1
