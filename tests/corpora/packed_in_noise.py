"""The packed clips of tests/audio as a corpus, quiet and spoilt: what `bench recognition` measures of the test half.

    python -m tests.corpora.packed_in_noise OUT --noise FOLDER... [--talk FOLDER] [--each 2]

Phrases and findings of the natural test voices, 0.25 s of silence around each: quiet, far, in noise of the test half at
20, 10, 5 and 0 dB, and with `--talk`, a folder of read speech with a manifest (path, speaker), in the chatter of three
of its test speakers at 10 dB. Beside them the sentences of other talk, in quiet. `--each 2` spoils every second clip.
"""

import argparse
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from tests.corpora.levels import RATE_HZ, active_level_dbfs, gained
from tests.corpora.spoiling import SPEECH_DBFS, Condition, conditions
from tests.corpora.synthesise import Row, write_flac, write_manifest
from tests.corpora.voices import by_name
from tests.hearing.packed import Clip, index, meant

_PADDING = np.zeros(RATE_HZ // 4, np.float32)
_PHRASES = ("readings", "findings")


def is_wanted(clip: Clip) -> bool:
    """Other talk, and what natural voices say that has one meaning."""
    if clip.set_name not in _PHRASES:
        return clip.set_name == "talk"
    return by_name(clip.speaker).natural and meant(clip.transcript) is not None


def rows_of(clip: Clip, number: int, out: Path, ways: list[Condition], each: int) -> Iterable[Row]:
    """Writes a clip in every way that it is wanted, and gives the lines of the manifest."""
    phrase = clip.set_name in _PHRASES
    sound = gained(clip.samples, SPEECH_DBFS - active_level_dbfs(clip.samples))
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
