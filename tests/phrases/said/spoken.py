"""The same lists spoken: each clip is streamed into its context through the end-pointer and the recogniser."""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np

from tests.corpora.synthesise import read_flac
from tests.phrases.said.lists import opened, utterances
from tests.phrases.said.scoring import Scored, judged
from tests.phrases.said.talk import MOMENTS, Stray, what_it_did
from voicelog.exam.events import Line
from voicelog.hearing.endpointing import utterances as cut
from voicelog.hearing.engines.protocol import Engine, Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.session import Session

_BLOCK = 512
_BEFORE_S, _BEHIND_S = 0.5, 1.0


@dataclass(frozen=True, slots=True)
class Clip:
    """A recording: its text's place in the list, the voice, and the words."""

    path: Path
    row: int
    voice: str
    words: str


def clips(folder: Path, set_name: str, most: int = 0, seed: int = 1) -> list[Clip]:
    """The clips of one set of a corpus, by the row in their file names; `most` of them, by lot, where more than 0."""
    with (folder / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        rows = [
            row
            for row in csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)
            if row["set"] == set_name
        ]
    if 0 < most < len(rows):
        rows = Random(seed).sample(rows, most)
    return [_clip(folder, row) for row in rows]


def _clip(folder: Path, row: dict[str, str]) -> Clip:
    path = folder / row["path"]
    return Clip(path, int(path.stem.partition("-")[0]), row["speaker"], row["transcript"])


def spoken(path: Path, chosen: Sequence[Clip], engine: Engine) -> Iterator[Scored]:
    """Clips of a list (of rows 0, 1 and 2 of every five), each heard in its context.

    Raises ValueError for a clip that says something else than its row.
    """
    listed = [said for number, said in enumerate(utterances(path)) if number % 5 < 3]
    for clip in chosen:
        said = listed[clip.row]
        if said.text != clip.words:
            raise ValueError(f"{clip.path} says {clip.words!r}, its row {said.text!r}")
        lines = streamed(opened(said.context, engine), read_flac(clip.path))
        yield Scored(said, lines, judged(said, *lines))


def spoken_strays(chosen: Sequence[Clip], engine: Engine) -> Iterator[Stray]:
    """What other talk does, at every moment of typed talk."""
    for clip in chosen:
        for moment in MOMENTS:
            session = opened(moment, engine)
            before = session.state
            for line in streamed(session, read_flac(clip.path)):
                did = what_it_did(before, session.state, line)
                if did is not None:
                    yield Stray(clip.path.stem, clip.voice, clip.words, moment, did, line.reply)


def streamed(session: Session, sound: Samples) -> tuple[Line, ...]:
    """What comes of sound (n,), 16 kHz, with the silence of a room around it."""
    room = np.random.default_rng(3).standard_normal(int((_BEFORE_S + _BEHIND_S) * SAMPLE_RATE_HZ)) * 1e-4
    before, behind = np.split(room.astype(np.float32), [int(_BEFORE_S * SAMPLE_RATE_HZ)])
    whole = np.concatenate([before, sound, behind])
    blocks = (Block(whole[at : at + _BLOCK], at, 0.0) for at in range(0, len(whole), _BLOCK))
    return tuple(session.hear(each) for each in cut(blocks))
