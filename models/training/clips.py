"""The recordings that training hears: synthetic speech, real people of the tuning half, noise of the tuning half.

Which half a person serves is decided by the name alone: the first byte of the SHA-256 of the speaker's name, even
for tuning, odd for testing. Of the noise recordings the tuning half is what tests/corpora/rooms.py gives.
"""

from __future__ import annotations

import csv
import hashlib
import json
import random
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

RATE = 16_000
LOUDEST = 20_000
COPIES = 2
"""Times that a real person's word is heard for each time a synthetic clip is."""
JOINED = 4_000
LONGEST = 8 * RATE


@dataclass(frozen=True, slots=True)
class Clip:
    """16-bit samples at 16 kHz, and what is said."""

    samples: npt.NDArray[np.int16]
    text: str


def is_tuning(speaker: str) -> bool:
    """Whether a person serves training (else: testing)."""
    return hashlib.sha256(speaker.encode()).digest()[0] % 2 == 0


def read_speech(folder: Path, share: int = 0, shares: int = 1) -> list[Clip]:
    """What speech.py made for training: of all files, every `shares`-th from the `share`-th on."""
    clips = []
    for path in sorted(folder.glob("train*.npz"))[share::shares]:
        about = json.loads(path.with_suffix(".json").read_text("utf-8"))
        with np.load(path) as file:
            samples, lengths = file["samples"], file["lengths"]
        ends = np.cumsum(lengths)
        for (_, text, _), length, end in zip(about, lengths, ends, strict=True):
            clips.append(Clip(samples[end - length : end].copy(), text))
    return clips


def people(folder: Path, tuning: bool) -> list[tuple[Path, str, str]]:
    """Path, words and speaker of each recording of one half of the speakers."""
    with (folder / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)
        return [
            (folder / row["path"], row["transcript"], row["speaker"])
            for row in rows
            if is_tuning(row["speaker"]) == tuning
        ]


def recording(path: Path) -> npt.NDArray[np.float32]:
    """A recording at full scale. Raises ValueError unless it is 16 kHz mono."""
    samples, rate = soundfile.read(path, dtype="float32")
    if rate != RATE or samples.ndim != 1:
        raise ValueError(f"{path} is not 16 kHz mono")
    highest = max(1e-4, float(np.abs(samples).max()))
    return np.asarray(samples / highest, dtype=np.float32)


def _as_clip(samples: npt.NDArray[np.float32], text: str) -> Clip:
    return Clip((samples[:LONGEST] * LOUDEST).astype(np.int16), text)


def tight(samples: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """The loud part alone, as words follow each other in a phrase."""
    loud = np.flatnonzero(np.abs(samples) > 0.06)
    return samples[max(0, loud[0] - 320) : loud[-1] + 320]


def joined_words(
    words: Sequence[tuple[str, str, npt.NDArray[np.float32]]], count: int, seed: int
) -> list[Clip]:
    """Words of real people (speaker, word, samples) one after another: half of one person, half of several."""
    chance = random.Random(seed)
    of_one = defaultdict(list)
    for word in words:
        of_one[word[0]].append(word)
    rich = [spoken for spoken in of_one.values() if len(spoken) > 2]
    clips = []
    for number in range(count):
        among = chance.choice(rich) if rich and number % 2 else words
        parts: list[npt.NDArray[np.float32]] = []
        said = []
        for _ in range(chance.choice((2, 2, 3, 3, 4, 5))):
            _, text, samples = chance.choice(among)
            level = np.float32(chance.uniform(0.6, 1.0))
            gap = chance.randint(0, 2400) if chance.random() < 0.8 else chance.randint(4000, 14_000)
            if sum(map(len, parts)) + len(samples) + gap < LONGEST:
                parts += [tight(samples) * level, np.zeros(gap, np.float32)]
                said.append(text)
        clips.append(_as_clip(np.concatenate(parts), " ".join(said)))
    return clips


def read_real(shared: Path, seed: int) -> list[Clip]:
    """Single words of real people of the tuning half, and such words joined."""
    words = [
        (speaker, text, recording(path))
        for folder in ("words", "other_words")
        for path, text, speaker in people(shared / folder, tuning=True)
        if text
    ]
    single = [_as_clip(samples, text) for _, text, samples in words for _ in range(COPIES)]
    return single + joined_words(words, JOINED, seed)


def talk_recordings(shared: Path) -> list[Clip]:
    """Sentences read by people of the tuning half: chatter behind the speech, never a transcript."""
    return [_as_clip(recording(path), "") for path, _, _ in people(shared / "read_speech", tuning=True)]


def noise_recordings(folders: Sequence[Path], tuning: bool = True) -> npt.NDArray[np.float32]:
    """Noise of one half, end to end, each recording at one level."""
    from tests.corpora.rooms import NoiseShelf

    shelf = NoiseShelf.of(folders, "tuning" if tuning else "test")
    pieces = [noise.samples() for noise in shelf.noises]
    return np.concatenate([piece / max(1e-4, float(np.sqrt(np.mean(piece**2)))) * 0.1 for piece in pieces])
