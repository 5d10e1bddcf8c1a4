"""How a live exam listens and answers, and what it was like."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from voicelog.exam.state import ExamState
from voicelog.live.feedback import ReadBack
from voicelog.live.latency import Latency
from voicelog.live.switch import Pedal
from voicelog.live.told import Counts
from voicelog.settings import Settings


@dataclass(frozen=True, slots=True)
class LiveOptions:
    """How to listen and to answer."""

    device: str | None = None
    """A part of the microphone's name; None: the system's default."""
    source: Path | None = None
    """A recording instead of the microphone; then nothing is played."""
    pace: Literal["real", "fast"] = "real"
    stay: bool = False
    """After the recording go on with what is typed, until it is ended as with a microphone."""
    tones: bool = True
    volume: float = 0.5
    read_back: ReadBack = "changes"
    headset: bool = False
    """The microphone does not hear the loudspeaker: every word counts, also while the program speaks."""
    push_to_talk: bool = False
    pedal: Pedal = "toggle"
    banner: str = ""
    """Shown as long as the exam lasts, as that it is not kept."""

    @classmethod
    def of(cls, settings: Settings, **given: Any) -> "LiveOptions":
        """What the settings say of the sound, and what was `given` beside them, which goes before."""
        by_settings = {
            "tones": settings.tones,
            "volume": settings.volume,
            "headset": settings.headset,
        }
        return cls(**(by_settings | {"read_back": read_back(settings)} | given))


def read_back(settings: Settings) -> ReadBack:
    """How much is said back: where it is left to the program all on a headset, which disturbs nobody."""
    if settings.read_back != "auto":
        return settings.read_back
    return "full" if settings.headset else "changes"


@dataclass(frozen=True, slots=True)
class Ended:
    """What a live exam was like."""

    state: ExamState
    counts: Counts
    latency: Latency
    notes: tuple[str, ...]
    """What was odd on the way, one line each."""

    @property
    def figures(self) -> dict[str, Any]:
        """All but the state, for JSON."""
        return {
            "utterances": self.counts.utterances,
            "drafts": self.counts.drafts,
            "drafts_used": self.counts.drafts_used,
            "own_speech": self.counts.own_speech,
            "over_speech": self.counts.over_speech,
            "most_waiting": self.counts.most_waiting,
            "faults": self.counts.faults,
            "latency": self.latency.as_json(),
            "notes": list(self.notes),
        }
