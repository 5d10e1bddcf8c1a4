"""The microphone check of the first start: some seconds of sound, its level as it goes, and a verdict in words."""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from voicelog.errors import VoicelogError
from voicelog.hearing.levels import FLOOR_DBFS, measure
from voicelog.hearing.microphone import MicrophoneSource
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, Source
from voicelog.live.preflight import LEAST_SPEECH_TO_NOISE_DB, noise_floor_dbfs

SECONDS: Final = 6.0
_PATIENCE_S: Final = 12.0  # a microphone that gives nothing is given up

Hears: TypeAlias = Callable[[list[Block]], tuple[str | None, bool]]
"""What was understood of some sound, and whether it was the test phrase."""


@dataclass(frozen=True, slots=True)
class Found:
    """The check as it stands: `level_dbfs` is that of the last block, `verdict` empty until it is over.

    `heard` is what was understood of the test phrase, in a sentence; empty where nobody listens for it.
    """

    running: bool
    level_dbfs: float
    verdict: str = ""
    good: bool = False
    heard: str = ""


class LevelCheck:
    """Listens for some seconds when asked; one check at a time. Nothing of the sound is kept."""

    def __init__(
        self,
        opened: Callable[[str | None], Source] = MicrophoneSource,
        seconds: float = SECONDS,
        *,
        hears: Hears | None = None,
    ) -> None:
        self._opened, self._seconds, self._hears = opened, seconds, hears
        self._lock = threading.Lock()
        self._source: Source | None = None
        self._found = Found(False, FLOOR_DBFS)

    @property
    def found(self) -> Found:
        """How far it is."""
        return self._found

    def start(self, device: str | None) -> None:
        """Begin; a check that is running goes on. Raises MissingPartError without PortAudio."""
        with self._lock:
            if self._source is not None:
                return
            source = self._opened(device)
            self._source = source
            self._found = Found(True, FLOOR_DBFS)
        threading.Thread(target=self._listen, args=(source,), name="level check", daemon=True).start()

    def stop(self) -> None:
        """End a check that is running."""
        source = self._source
        if source is not None:
            source.close()

    def _listen(self, source: Source) -> None:
        blocks: list[Block] = []
        heard = ""
        patience = threading.Timer(_PATIENCE_S, source.close)
        patience.daemon = True
        patience.start()
        try:
            for block in source.blocks():
                blocks.append(block)
                if block.samples.size:
                    self._found = Found(True, measure(block.samples).rms_dbfs)
                if sum(each.samples.size for each in blocks) >= self._seconds * SAMPLE_RATE_HZ:
                    break
            source.close()
            verdict, good = _verdict([block.samples for block in blocks])
            if good and self._hears is not None:
                self._found = Found(True, FLOOR_DBFS)
                good, heard = _phrase(*self._hears(blocks))
        except (VoicelogError, OSError) as error:
            verdict, good = str(error), False
        finally:
            patience.cancel()
            source.close()
        with self._lock:
            self._source = None
            self._found = Found(False, FLOOR_DBFS, verdict, good, heard)


def _phrase(text: str | None, as_asked: bool) -> tuple[bool, str]:
    if as_asked:
        return True, f"understood: “{text}”"
    if text is None:
        return False, "the test phrase was not heard: say it once more"
    return False, f"heard “{text}”, not the test phrase: say it once more"


def _verdict(blocks: Sequence[np.ndarray]) -> tuple[str, bool]:
    samples = np.concatenate(blocks) if blocks else np.zeros(0, np.float32)
    if not samples.size:
        return "no sound comes from the microphone: plug one in, or name another", False
    floor_dbfs = noise_floor_dbfs(samples)
    seconds = np.array_split(samples, max(1, samples.size // (SAMPLE_RATE_HZ // 4)))
    loudest_dbfs = max(measure(part).rms_dbfs for part in seconds)
    if loudest_dbfs <= FLOOR_DBFS:
        return "the microphone gives digital silence: it is muted, or not the one that is meant", False
    above_db = loudest_dbfs - floor_dbfs
    if above_db < LEAST_SPEECH_TO_NOISE_DB:
        return (
            f"your voice is only {above_db:.0f} dB above the noise, {LEAST_SPEECH_TO_NOISE_DB:.0f} are wanted. "
            "Speak while it listens, come nearer, or use a headset",
            False,
        )
    return f"good: your voice is {above_db:.0f} dB above the noise", True
