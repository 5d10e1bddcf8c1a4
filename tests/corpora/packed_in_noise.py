"""The packed clips of tests/audio as a corpus, quiet and spoilt: what `bench recognition` measures of the test half.

    python -m tests.corpora.packed_in_noise OUT --noise FOLDER... [--talk FOLDER] [--each 2]

Phrases and findings of the natural test voices, 0.25 s of silence around each: quiet, far, in noise of the test half at
20, 10, 5 and 0 dB, and with `--talk`, a folder of read speech with a manifest (path, speaker), in the chatter of three
of its test speakers at 10 dB. Beside them the sentences of other talk, in quiet. `--each 2` spoils every second clip.
"""

import argparse
import csv
import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
import soundfile

from tests.corpora.levels import RATE_HZ, Samples, active_level_dbfs, gained, rms_dbfs
from tests.corpora.rooms import CONSULTING_ROOM, FAR_ROOM, NoiseShelf, add_noise, reverberated
from tests.corpora.synthesise import Row, write_flac, write_manifest
from tests.corpora.voices import by_name
from tests.hearing.packed import Clip, index, meant

_SPEECH_DBFS = -26.0
_PADDING = np.zeros(RATE_HZ // 4, np.float32)
_SNRS_DB = (20, 10, 5, 0)
_CHATTER_DB = 10
_PHRASES = ("readings", "findings")


@dataclass(frozen=True, slots=True)
class Condition:
    """How a clip is spoilt; `spoil` takes it and a key that makes its noise its own."""

    name: str
    snr_db: str
    spoil: Callable[[Samples, str], Samples]


def chatter(folder: Path) -> Samples:
    """Three people of the test half reading at once."""
    voices: list[list[Samples]] = [[], [], []]
    with (folder / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        for number, row in enumerate(csv.DictReader(file, delimiter="\t")):
            if hashlib.sha256(row["speaker"].encode()).digest()[0] % 2:
                voice, _ = soundfile.read(folder / row["path"], dtype="float32")
                voices[number % 3].append(gained(voice, _SPEECH_DBFS - active_level_dbfs(voice)))
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


def conditions(noise: Iterable[Path], talk: Path | None) -> list[Condition]:
    """Quiet, then every way to spoil."""
    shelf = NoiseShelf.of(list(noise), "test")

    def noisy(snr_db: int) -> Callable[[Samples, str], Samples]:
        return lambda clip, key: add_noise(reverberated(clip, CONSULTING_ROOM), shelf.pick(key), snr_db, key)

    found = [
        Condition("quiet", "", lambda clip, key: clip),
        Condition("far", "", lambda clip, key: reverberated(clip, FAR_ROOM)),
        *(Condition(f"noise{snr_db:02}", str(snr_db), noisy(snr_db)) for snr_db in _SNRS_DB),
    ]
    if talk is not None:
        together = chatter(talk)
        found.append(
            Condition(
                f"chatter{_CHATTER_DB}",
                str(_CHATTER_DB),
                lambda clip, key: in_chatter(reverberated(clip, CONSULTING_ROOM), together, _CHATTER_DB, key),
            )
        )
    return found


def is_wanted(clip: Clip) -> bool:
    """Other talk, and what natural voices say that has one meaning."""
    if clip.set_name not in _PHRASES:
        return clip.set_name == "talk"
    return by_name(clip.speaker).natural and meant(clip.transcript) is not None


def rows_of(clip: Clip, number: int, out: Path, ways: list[Condition], each: int) -> Iterable[Row]:
    """Writes a clip in every way that it is wanted, and gives the lines of the manifest."""
    phrase = clip.set_name in _PHRASES
    sound = gained(clip.samples, _SPEECH_DBFS - active_level_dbfs(clip.samples))
    sound = np.concatenate([_PADDING, sound, _PADDING])
    for way in ways:
        if way.name != "quiet" and (number % each or not phrase):
            continue
        name = Path(way.name) / clip.speaker / f"{number:04}.flac"
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        spoilt = way.spoil(sound, f"{way.name} {clip.speaker} {clip.transcript}")
        write_flac(out / name, spoilt.astype(np.float32))
        said = clip.transcript if phrase else ""
        yield Row(name.as_posix(), said, clip.speaker, clip.set_name, way.name, way.snr_db, "test")


def main() -> None:
    """Make the corpus."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path)
    parser.add_argument("--noise", type=Path, nargs="+", required=True)
    parser.add_argument("--talk", type=Path)
    parser.add_argument("--each", type=int, default=1)
    options = parser.parse_args()
    ways = conditions(options.noise, options.talk)
    clips = [clip for clip in index() if is_wanted(clip)]
    rows = [
        row
        for number, clip in enumerate(clips)
        for row in rows_of(clip, number, options.out, ways, options.each)
    ]
    write_manifest(options.out / "manifest.tsv", rows)
    print(f"{len(rows)} clips")


if __name__ == "__main__":
    main()
