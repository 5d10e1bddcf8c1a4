"""Clean clips spoilt in many ways: a corpus for `bench recognition` and `bench calibrate`.

    python -m tests.corpora.spoilt CORPUS OUT --noise FOLDER... [--talk FOLDER] --split test \
        --set random --take quiet=2000,far=500,noise10=500,chatter10=500 [--set pairs --take quiet=300] [--jobs 2]

CORPUS holds clean clips with a manifest (models/training/spoken.py). For every set, so many random clips are spoilt in each way: quiet,
far, noise20, noise10, noise05, noise00, chatter10, chatter05; noise and talkers of the same half as the voices. Clips of a set
given by `--other` are talk: what they say is left out of the manifest. Of others what has no meaning or several is left out. OUT/manifest.tsv goes in the order of the ways.
"""

import argparse
import csv
from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random

import numpy as np

from tests.corpora.levels import RATE_HZ, active_level_dbfs, gained
from tests.corpora.spoiling import SPEECH_DBFS, Condition, Half, conditions
from tests.corpora.synthesise import Row, read_flac, write_flac, write_manifest
from tests.hearing.packed import meant

_PADDING = np.zeros(RATE_HZ // 4, np.float32)
_CHATTER_DB = (10, 5)


@dataclass(frozen=True, slots=True)
class Spoiler:
    """How one clip is written in one way; every process makes the ways for itself."""

    corpus: Path
    out: Path
    noise: tuple[Path, ...]
    talk: Path | None
    half: Half

    def __call__(self, task: tuple[Row, str]) -> Row:
        """Writes the clip; its line of the manifest."""
        row, name = task
        way = _ways(self)[name]
        sound = read_flac(self.corpus / row.path)
        sound = np.concatenate([_PADDING, gained(sound, SPEECH_DBFS - active_level_dbfs(sound)), _PADDING])
        path = Path(name) / row.path
        write_flac(self.out / path, way.spoil(sound, f"{name} {row.path}").astype(np.float32))
        return Row(path.as_posix(), row.transcript, row.speaker, row.set, name, way.snr_db, row.split)


@cache
def _ways(spoiler: Spoiler) -> Mapping[str, Condition]:
    found = conditions(spoiler.noise, spoiler.talk, spoiler.half, _CHATTER_DB)
    return {each.name: each for each in found}


def rows_of(corpus: Path, half: Half, other: frozenset[str]) -> list[Row]:
    """The clips of one half; those of `other` sets without their words."""
    with (corpus / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        found = csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)
        rows = [
            Row(row["path"], row["transcript"], row["speaker"], row["set"], "", "", row["split"])
            for row in found
        ]
    return [
        Row(row.path, "" if row.set in other else row.transcript, row.speaker, row.set, "", "", row.split)
        for row in rows
        if row.split == half
    ]


def clear(rows: list[Row], jobs: int) -> list[Row]:
    """The rows of talk, and those whose words are a phrase of an exam with one meaning."""
    texts = sorted({row.transcript for row in rows if row.transcript})
    with ProcessPoolExecutor(jobs) as pool:
        kept = {
            text
            for text, one in zip(texts, pool.map(_has_one_meaning, texts, chunksize=16), strict=True)
            if one
        }
    return [row for row in rows if not row.transcript or row.transcript in kept]


def _has_one_meaning(text: str) -> bool:
    return meant(text) is not None


def chosen(rows: list[Row], taken: Mapping[str, Mapping[str, int]]) -> Iterator[tuple[Row, str]]:
    """For every set and way so many clips by lot."""
    for name, ways in taken.items():
        own = sorted((row for row in rows if row.set == name), key=lambda row: row.path)
        for way, count in ways.items():
            for row in Random(f"{name} {way}").sample(own, min(count, len(own))):
                yield row, way


def _counts(text: str) -> dict[str, int]:
    return {way: int(count) for way, _, count in (each.partition("=") for each in text.split(","))}


def main() -> None:
    """Make the corpus."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("corpus", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--noise", type=Path, nargs="+", required=True)
    parser.add_argument("--talk", type=Path)
    parser.add_argument("--split", choices=("tuning", "test"), required=True)
    parser.add_argument("--set", action="append", required=True)
    parser.add_argument("--take", action="append", type=_counts, required=True)
    parser.add_argument("--other", action="append", default=[])
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    rows = clear(rows_of(given.corpus, given.split, frozenset(given.other)), given.jobs)
    spoiler = Spoiler(given.corpus, given.out, tuple(given.noise), given.talk, given.split)
    tasks = list(chosen(rows, dict(zip(given.set, given.take, strict=True))))
    with ProcessPoolExecutor(given.jobs) as pool:
        made = list(pool.map(spoiler, tasks, chunksize=8))
    write_manifest(given.out / "manifest.tsv", made)
    print(f"{len(made)} clips")


if __name__ == "__main__":
    main()
