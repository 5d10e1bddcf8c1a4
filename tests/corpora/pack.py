"""Packs rendered clips into the small recordings kept in tests/audio: one Opus file a voice, and an index.

    python -m tests.corpora.pack CORPUS tests/audio --clips 24

CORPUS holds folders `readings`, `talk` and `findings` with a manifest each (make_corpus.py, synthesise.py). Only test voices are packed. The
index has the columns file, start_s, end_s, transcript, speaker, set.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterator, Sequence
from pathlib import Path
from random import Random

import numpy as np
import soundfile

from .levels import RATE_HZ, Samples
from .synthesise import read_flac
from .voices import by_name

_PAUSE_S = 0.5
_SEED = 7
_OLD_VOICES_STEP = 4  # old synthesisers show less, and cost as much time
_COMPRESSION = 0.85  # of soundfile's 0 to 1; at 0.97 (about 12 kbit/s) the codec itself is heard


def chosen(folder: Path, most: int) -> Iterator[tuple[str, list[dict[str, str]]]]:
    """Test voices of one set with a random choice of their clips."""
    with (folder / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file, delimiter="\t") if (folder / row["path"]).exists()]
    for speaker in sorted({row["speaker"] for row in rows}):
        own = [row for row in rows if row["speaker"] == speaker]
        if by_name(speaker).split == "test":
            yield (
                speaker,
                sorted(Random(_SEED).sample(own, min(most, len(own))), key=lambda row: row["transcript"]),
            )


def pack(rows: Sequence[dict[str, str]], folder: Path, out: Path) -> list[tuple[float, float]]:
    """Write clips one after the other; returns start and end of each in seconds."""
    pause = np.zeros(int(_PAUSE_S * RATE_HZ), np.float32)
    pieces: list[Samples] = [pause]
    spans, place = [], len(pause)
    for row in rows:
        clip = read_flac(folder / row["path"])
        spans.append((place / RATE_HZ, (place + len(clip)) / RATE_HZ))
        pieces += [clip, pause]
        place += len(clip) + len(pause)
    soundfile.write(
        out, np.concatenate(pieces), RATE_HZ, format="OGG", subtype="OPUS", compression_level=_COMPRESSION
    )
    return spans


def main(arguments: Sequence[str] | None = None) -> int:
    """Pack every set."""
    parser = argparse.ArgumentParser(description="Pack test voices into tests/audio.")
    parser.add_argument("corpus", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--clips", type=int, default=24, help="phrases a voice")
    parser.add_argument("--findings", type=int, default=12, help="phrases of further findings a voice")
    parser.add_argument("--talk", type=int, default=40, help="sentences of other talk a voice")
    given = parser.parse_args(arguments)
    with (given.out / "index.tsv").open("w", encoding="utf-8", newline="") as file:
        index = csv.writer(file, delimiter="\t", lineterminator="\n")
        index.writerow(("file", "start_s", "end_s", "transcript", "speaker", "set"))
        for set_name, most in (("readings", given.clips), ("talk", given.talk), ("findings", given.findings)):
            for speaker, rows in chosen(given.corpus / set_name, most):
                if set_name == "readings" and not by_name(speaker).natural:
                    rows = rows[::_OLD_VOICES_STEP]
                name = f"{set_name}-{speaker}.ogg"
                spans = pack(rows, given.corpus / set_name, given.out / name)
                for row, (start_s, end_s) in zip(rows, spans, strict=True):
                    index.writerow(
                        (name, f"{start_s:.3f}", f"{end_s:.3f}", row["transcript"], speaker, set_name)
                    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
