"""Ways to spoil a clip, each with noise and talkers of one half: what corpora for `bench recognition` are made with."""

import csv
import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Literal

import numpy as np
import soundfile

from tests.corpora.levels import Samples, active_level_dbfs, gained, rms_dbfs
from tests.corpora.rooms import CONSULTING_ROOM, FAR_ROOM, NoiseShelf, add_noise, reverberated

SPEECH_DBFS = -26.0
SNRS_DB = (20, 10, 5, 0)
Half = Literal["tuning", "test"]


@dataclass(frozen=True, slots=True)
class Condition:
    """How a clip is spoilt; `spoil` takes it and a key that makes its noise its own."""

    name: str
    snr_db: str
    spoil: Callable[[Samples, str], Samples]


def chatter(folder: Path, half: Half) -> Samples:
    """Three people of one half reading at once."""
    voices: list[list[Samples]] = [[], [], []]
    with (folder / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        for number, row in enumerate(csv.DictReader(file, delimiter="\t")):
            if hashlib.sha256(row["speaker"].encode()).digest()[0] % 2 == (half == "test"):
                voice, _ = soundfile.read(folder / row["path"], dtype="float32")
                voices[number % 3].append(gained(voice, SPEECH_DBFS - active_level_dbfs(voice)))
    tracks = [np.concatenate(voice) for voice in voices]
    shortest = min(len(track) for track in tracks)
    together: Samples = np.sum([track[:shortest] for track in tracks], axis=0).astype(np.float32)
    return together


def in_chatter(clip: Samples, talk: Samples, snr_db: float, key: str) -> Samples:
    """A clip with a stretch of talk so much lower."""
    start = Random(key).randrange(len(talk) - len(clip))
    part = talk[start : start + len(clip)]
    gain_db = active_level_dbfs(clip) - snr_db - rms_dbfs(part)
    mixed: Samples = (clip + part * np.float32(10 ** (gain_db / 20))).astype(np.float32)
    return gained(mixed, 0.0)


def conditions(
    noise: Iterable[Path], talk: Path | None, half: Half = "test", chatter_db: Iterable[int] = (10,)
) -> list[Condition]:
    """Quiet, then every way to spoil. `talk` is a folder of read speech with a manifest (path, speaker)."""
    shelf = NoiseShelf.of(list(noise), half)

    def noisy(snr_db: int) -> Callable[[Samples, str], Samples]:
        return lambda clip, key: add_noise(reverberated(clip, CONSULTING_ROOM), shelf.pick(key), snr_db, key)

    found = [
        Condition("quiet", "", lambda clip, key: clip),
        Condition("far", "", lambda clip, key: reverberated(clip, FAR_ROOM)),
        *(Condition(f"noise{snr_db:02}", str(snr_db), noisy(snr_db)) for snr_db in SNRS_DB),
    ]
    if talk is not None:
        together = chatter(talk, half)

        def beside(snr_db: int) -> Callable[[Samples, str], Samples]:
            return lambda clip, key: in_chatter(reverberated(clip, CONSULTING_ROOM), together, snr_db, key)

        found += [Condition(f"chatter{snr_db:02}", str(snr_db), beside(snr_db)) for snr_db in chatter_db]
    return found
