"""Finds the recordings of real people that are kept beside the repository, not in it."""

import csv
import os
from dataclasses import dataclass
from pathlib import Path

import pytest


@dataclass(frozen=True)
class SharedRecording:
    """One line of a folder's manifest."""

    path: Path
    transcript: str
    speaker: str


def shared_recordings(folder: str) -> list[SharedRecording]:
    """The manifest of `folder`; skips the test where the recordings are not there."""
    beside = Path(__file__).parents[3] / "shared" / "audio"
    root = Path(os.environ.get("VOICELOG_SHARED_AUDIO", beside)) / folder
    if not (root / "manifest.tsv").is_file():
        pytest.skip(f"no recordings in {root}; set VOICELOG_SHARED_AUDIO to the folder that has them")
    with (root / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)
        return [SharedRecording(root / row["path"], row["transcript"], row["speaker"]) for row in rows]
