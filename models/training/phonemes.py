"""Texts to phonemes in many accents, and the voices' style vectors in one file: what synthesis needs.

    python -m models.training.phonemes TEXTS OUT --styles FOLDER [--seed 1]

TEXTS holds texts.tsv and evaluation.tsv. OUT gets phonemes.json (training), evaluation.json (with a test voice for
each text), pause.json and styles.npz. FOLDER holds Kokoro's style vectors (tests/corpora/install.sh lays them).
Needs the package hibari-tts.

A third of the training texts are said with an accent: phonemes are exchanged as speakers of other languages and
regions commonly exchange them (J. C. Wells, Accents of English, 1982; from memory). The exchange is crude on purpose:
each rule applies by lot, so that no accent is learnt as a whole.
"""

from __future__ import annotations

import argparse
import csv
import importlib.resources
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from tests.corpora.voices import select

LONGEST = 190
"""Style rows that are kept: one for each length of a phoneme string."""

ACCENTED = 0.35
RULE_HOLDS = 0.75
ACCENTS: dict[str, tuple[tuple[str, str], ...]] = {
    "south asian": (("θ", "t"), ("ð", "d"), ("w", "v"), ("ɹ", "ɾ"), ("T", "t"), ("A", "e"), ("[OQ]", "o"), ("æ", "ɛ")),
    "east african": (("θ", "t"), ("ð", "d"), ("ɜː|ɜɹ", "a"), ("æ", "a"), ("ɪ", "i"), ("ə$|ə(?= )", "a"), ("A", "e")),
    "west african": (("θ", "t"), ("ð", "d"), ("ʌ", "ɔ"), ("ɜː|ɜɹ", "ɛ"), ("æ", "a"), ("ɪ", "i"), ("[OQ]", "o")),
    "romance": (("θ", "s"), ("ð", "d"), ("ɪ", "i"), ("ʌ", "a"), ("æ", "a"), ("z", "s"), ("h", ""), ("ɹ", "ɾ")),
    "germanic": (("θ", "s"), ("ð", "z"), ("w", "v"), ("v(?= |$)", "f"), ("d(?= |$)", "t"), ("z(?= |$)", "s"),
                 ("ɹ", "ʁ")),
    "slavic": (("θ", "t"), ("ð", "d"), ("w", "v"), ("ɹ", "r"), ("ɪ", "i"), ("æ", "ɛ"), ("ʌ", "a"), ("h", "x")),
    "new zealand": (("ɛ", "ɪ"), ("ˈɪ", "ˈə"), ("æ", "ɛ")),
    "south african": (("ɪ", "ə"), ("æ", "ɛ"), ("ɹ", "ɾ"), ("ɑː", "ɔː")),
    "scottish": (("ɹ", "r"), ("[OQ]", "o"), ("A", "e"), ("ʊ", "u"), ("ɒ", "ɔ")),
    "irish": (("θ", "t"), ("ð", "d"), ("ʌ", "ʊ"), ("A", "e"), ("[OQ]", "o")),
}  # fmt: skip

_SPOKEN_AS = {
    "plano": ("plˈAnO", "plˈAnQ"),
    "dioptre": ("dIˈɑptəɹ", "dIˈɒptə"),
    "dioptres": ("dIˈɑptəɹz", "dIˈɒptəz"),
}
_LETTER_A = "ˈA"


@dataclass(frozen=True, slots=True)
class Item:
    """A text and its phonemes as Kokoro's tokens; `voice` and `rate` only where a test voice says it."""

    kind: str
    text: str
    tokens: list[int]
    voice: str = ""
    rate: float = 1.0


class Reader:
    """Texts to tokens."""

    def __init__(self) -> None:
        from hibari.g2p import G2P

        self._readers = [G2P(british=False), G2P(british=True)]
        vocabulary = (importlib.resources.files("hibari") / "assets" / "vocab.json").read_text("utf-8")
        self._vocabulary: dict[str, int] = json.loads(vocabulary)

    def tokens(self, text: str, british: bool, accent: str = "", chance: Random | None = None) -> list[int]:
        """The tokens of `text`, behind a comma: Kokoro swallows the first consonant otherwise."""
        phonemes: str = self._readers[british](_marked(text, british))
        if accent and chance is not None:
            for pattern, other in ACCENTS[accent]:
                if chance.random() < RULE_HOLDS:
                    phonemes = re.sub(pattern, other, phonemes)
        return [self._vocabulary[letter] for letter in f", {phonemes}" if letter in self._vocabulary]

    def pause(self) -> list[int]:
        """The tokens of a full stop, which ends every text."""
        return [self._vocabulary[letter] for letter in " ."]


def _marked(text: str, british: bool) -> str:
    """`text` with a fixed pronunciation where the reader has another: trade words, and "a" as a letter."""
    words = text.split()
    for place, word in enumerate(words):
        if word in _SPOKEN_AS:
            words[place] = f"[{word}](/{_SPOKEN_AS[word][british]}/)"
        elif word == "a" and place and len(words[place - 1]) == 1:
            words[place] = f"[a](/{_LETTER_A}/)"
    return " ".join(words)


def read_texts(path: Path) -> list[tuple[str, str]]:
    """Kind and text of every row."""
    with path.open(encoding="utf-8", newline="") as file:
        return [(row["kind"], row["text"]) for row in csv.DictReader(file, delimiter="\t")]


def training_items(texts: Sequence[tuple[str, str]], reader: Reader, chance: Random) -> Iterator[Item]:
    """Every text once, in an accent drawn by lot."""
    for kind, text in texts:
        accent = chance.choice(list(ACCENTS)) if chance.random() < ACCENTED else ""
        tokens = reader.tokens(text, chance.random() < 0.45, accent, chance)
        if len(tokens) < LONGEST:
            yield Item(kind, text, tokens)


def evaluation_items(texts: Sequence[tuple[str, str]], reader: Reader) -> Iterator[Item]:
    """Every text once, the test voices in turn."""
    voices = [voice for voice in select(split="test") if voice.engine == "kokoro"]
    for number, (kind, text) in enumerate(texts):
        voice = voices[number % len(voices)]
        tokens = reader.tokens(text, voice.british)
        if len(tokens) < LONGEST:
            yield Item(kind, text, tokens, voice.engine_voice, voice.rate)


def pack_styles(folder: Path, out: Path) -> None:
    """All style vectors, half precision, shape (LONGEST, 256) each. Raises ValueError when there are none."""
    paths = sorted(folder.glob("*.bin"))
    if not paths:
        raise ValueError(f"{folder} holds no style vectors (*.bin)")
    rows: dict[str, Any] = {
        path.stem: np.fromfile(path, np.float32).reshape(-1, 256)[:LONGEST].astype(np.float16)
        for path in paths
    }
    np.savez_compressed(out, **rows)


def main(arguments: Sequence[str] | None = None) -> int:
    """Write phonemes and styles."""
    parser = argparse.ArgumentParser(description="Texts to phonemes.")
    parser.add_argument("texts", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--styles", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    reader = Reader()
    training = training_items(read_texts(given.texts / "texts.tsv"), reader, Random(given.seed))
    evaluation = evaluation_items(read_texts(given.texts / "evaluation.tsv"), reader)
    for name, items in (("phonemes", training), ("evaluation", evaluation)):
        (given.out / f"{name}.json").write_text(json.dumps([asdict(item) for item in items]), "utf-8")
    (given.out / "pause.json").write_text(json.dumps(reader.pause()), "utf-8")
    pack_styles(given.styles, given.out / "styles.npz")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
