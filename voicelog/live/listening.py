"""The loop of a live exam: sound is cut into utterances in one thread, recognised and taken in another (`entering.py`).

Capture never waits for the recogniser; only when `WAITING_LIMIT` utterances are unrecognised does it leave sound in
the source, which keeps minutes of it. Recognition begins with the end-pointer's draft, in the pause that ends an
utterance; its result stands if the finished utterance is the same piece of sound.
"""

import threading
from collections.abc import Callable

from voicelog.errors import VoicelogError
from voicelog.exam.events import Source as Origin
from voicelog.hearing.endpointing import Endpointer, EndpointingSettings
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.levels import FLOOR_DBFS, measure
from voicelog.hearing.sources import Block, Source
from voicelog.hearing.utterance import Utterance
from voicelog.live.entering import WAITING_LIMIT, Entering
from voicelog.live.garbage import keep_all_so_far, looked_for_in_pauses
from voicelog.live.switch import Gated, Switch
from voicelog.live.told import Counts, Taking, Told
from voicelog.speaking.judging import Judged
from voicelog.speaking.own_sound import OwnSound

_DRAFT_AFTER_S = 0.16
"""So soon is it thought ahead: what the draft comes to is mostly known when the pause is over."""
_LIVE = EndpointingSettings(draft_silence_s=_DRAFT_AFTER_S, padding_after_s=_DRAFT_AFTER_S)
_OPEN_AGAIN_S = 0.5


class Listening:
    """Runs a source through to entries. Make it, `start` it, `wait` for it; `close` ends it early.

    Nothing that was heard by then is lost: what is open is finished and what waits is entered first. `patience_s` says
    of what was heard in a draft how much silence ends it (None: as much as usual). `warm_up` is called before anything
    is recognised, while sound comes in already. With `opens_again` a source that fails is listened to anew, as a
    microphone can be; else its failure ends the exam. `watch` is given all sound as it comes.
    """

    def __init__(
        self,
        source: Source,
        taking: Taking,
        *,
        own: OwnSound | None = None,
        switch: Switch | None = None,
        endpointer: Endpointer | None = None,
        told: Told | None = None,
        patience_s: Callable[[Hearing], float | None] | None = None,
        warm_up: Callable[[], None] = lambda: None,
        opens_again: bool = False,
        watch: Callable[[Samples], None] | None = None,
    ) -> None:
        self.counts = Counts()
        self.level_dbfs = FLOOR_DBFS
        """Level of the last block."""
        self._source, self._own, self._told = source, own, told or Told()
        self._patience_s, self._warm_up, self._opens_again = patience_s, warm_up, opens_again
        self._watch = watch
        self._gated = Gated(switch) if switch is not None else None
        self._endpointer = endpointer or Endpointer(_LIVE)
        self._entering = Entering(taking, self._told, self.counts, self._drafted)
        self._closed = threading.Event()
        self._failure: BaseException | None = None
        self._talked_over = False
        self._capturer = threading.Thread(target=self._guarded_capture, name="capture", daemon=True)
        self._worker = threading.Thread(target=self._work, name="recognise", daemon=True)

    @property
    def arrivals(self) -> dict[int, float]:
        """For each event by voice, `time.monotonic()` when the end of its last word had been captured."""
        return self._entering.arrivals

    @property
    def in_speech(self) -> bool:
        """Whether somebody is speaking now."""
        return self._endpointer.in_speech

    @property
    def busy(self) -> bool:
        """Whether something that was said is not entered yet."""
        return self._entering.busy

    @property
    def idle(self) -> bool:
        """Whether nothing is being recognised or entered, drafts included."""
        return self._entering.idle

    def start(self) -> None:
        """Begin; returns at once."""
        self._capturer.start()
        self._worker.start()

    def type_line(self, line: str, source: Origin = "typed") -> None:
        """Enter a typed line after what was said before it; returns at once."""
        self._entering.type_line(line, source)

    def forget(self) -> None:
        """What is entered next is of another exam."""
        self._entering.forget()

    def close(self) -> None:
        """Stop capturing soon; what was heard is still entered."""
        self._closed.set()
        self._source.close()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Until everything is entered; False if that takes longer. Raises what made the source unusable."""
        self._worker.join(timeout_s)
        if self._worker.is_alive():
            return False
        if self._failure is not None:
            raise self._failure
        return True

    def _work(self) -> None:
        try:
            with looked_for_in_pauses():
                self._entering.run(self._get_ready)
        finally:
            self._told.finished()

    def _get_ready(self) -> None:
        self._warm_up()
        keep_all_so_far()

    def _guarded_capture(self) -> None:
        try:
            while True:
                try:
                    self._capture()
                    break
                except VoicelogError as error:
                    if not self._opens_again:
                        self._failure = error
                        break
                    self._failed(error)
                except Exception as fault:
                    self._failed(fault)
                    if not self._opens_again:
                        self._failure = fault
                        break
                if self._closed.wait(_OPEN_AGAIN_S):
                    break
        finally:
            self._entering.end()

    def _failed(self, fault: BaseException) -> None:
        self.counts.faults += 1
        self._told.fault(fault)

    def _capture(self) -> None:
        for block in self._source.blocks():
            try:
                self._heard(block)
            except Exception as fault:  # costs what was being said, and nothing else
                self._failed(fault)
                self._start_anew()
        self._add(self._endpointer.flush())

    def _start_anew(self) -> None:
        if self._endpointer.in_speech:
            self._entering.lose()
        self._endpointer = Endpointer(self._endpointer.settings)

    def _heard(self, block: Block) -> None:
        if block.samples.size:
            self.level_dbfs = measure(block.samples).rms_dbfs
            if self._watch is not None:
                self._watch(block.samples)
        for cleaned in self._cleaned(block):
            for part in self._gated.passed(cleaned) if self._gated is not None else (cleaned,):
                self._feed(part)
        if self._own is not None:
            self._stop_for_somebody(self._own)

    def _cleaned(self, block: Block) -> list[Block]:
        if self._own is None:
            return [block]
        try:
            return list(self._own.cleaned(block))
        except Exception as fault:  # better heard with an echo than not at all
            self._failed(fault)
            return [block]

    def _feed(self, block: Block) -> None:
        finished = self._endpointer.feed(block)
        draft = self._endpointer.draft()
        if finished:
            self._add(finished)
        if draft is not None and self._may_stand(draft):
            self._entering.offer(draft)

    def _may_stand(self, draft: Utterance) -> bool:
        """Whether its result may stand for the finished utterance."""
        if self._own is None:
            return True
        judged = self._own.judge(draft)
        return judged.utterance is draft and judged.kind != "drowned"

    def _drafted(self, draft: Utterance, hearing: Hearing) -> None:
        silence_s = self._patience_s(hearing) if self._patience_s is not None else None
        if silence_s is not None:
            self._endpointer.wait(draft, silence_s)

    def _stop_for_somebody(self, own: OwnSound) -> None:
        """The program's voice stops for who talks over it, once each time."""
        talked_over = own.barged_in and self._endpointer.in_speech
        if talked_over and not self._talked_over:
            self._told.barge_in()
        self._talked_over = talked_over

    def _add(self, finished: list[Utterance]) -> None:
        for utterance in finished:
            for judged in (
                self._own.settle(utterance) if self._own is not None else [Judged("clear", utterance)]
            ):
                self._take(judged)

    def _take(self, judged: Judged) -> None:
        if judged.utterance is None:
            self.counts.own_speech += judged.kind == "own"
        elif judged.kind == "drowned":
            self._entering.doubt(judged.utterance, judged.spoken)
        else:
            self.counts.over_speech += judged.kind == "over"
            self._entering.put(judged.utterance, judged.spoken)


__all__ = ["WAITING_LIMIT", "Counts", "Listening", "Taking", "Told"]
