"""What was said by voice, as it is written down."""

from dataclasses import dataclass
from typing import Final

from voicelog.exam.events import Alternative, Heard
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.hearing.utterance import Utterance
from voicelog.record.clips import Clip

_KEPT_ALTERNATIVES: Final = 3


@dataclass(frozen=True, slots=True)
class Spoken:
    """What was said by voice: what was heard in it (None: it was not recognised), and where it lies.

    `joined` is the sound and `start_sample` the place of an utterance together with the one before it.
    """

    hearing: Hearing | None
    utterance: Utterance | None
    joined: Samples | None = None
    start_sample: int | None = None

    @property
    def samples(self) -> Samples | None:
        """The sound to keep, shape (n,), 16 kHz."""
        if self.joined is not None:
            return self.joined
        return None if self.utterance is None else self.utterance.samples

    @property
    def margin(self) -> float | None:
        """How much likelier it is than the next meaning (log); None where nobody knows."""
        margin = None if self.hearing is None else self.hearing.margin
        return None if margin == float("inf") else margin


def heard_of(sound: Spoken, clip: Clip | None) -> Heard:
    """How it was heard, for the ledger, the review and the calibration; `clip` is its sound where it has one."""
    hearing, utterance = sound.hearing, sound.utterance
    start = sound.start_sample
    if start is None and utterance is not None:
        start = utterance.start_sample
    return Heard(
        engine="" if hearing is None else hearing.engine,
        score=None if hearing is None else hearing.score,
        margin=sound.margin,
        free_text="" if hearing is None else hearing.free_text,
        alternatives=()
        if hearing is None
        else tuple(
            Alternative(text=each.text, meanings=each.meanings, log_probability=each.log_probability)
            for each in hearing.hypotheses[:_KEPT_ALTERNATIVES]
        ),
        start_s=None if start is None else start / SAMPLE_RATE_HZ,
        end_s=None if utterance is None else utterance.end_sample / SAMPLE_RATE_HZ,
        clip=None if clip is None else clip.hash,
        clip_s=None if clip is None else clip.length_s,
    )
