"""What is said to measure with: examples by the voices of one half, phonemes and all, for speech.py to say.

    python -m models.training.examples OUT --split test|tuning [--devset FOLDER] [--seed 7] [...]

OUT gets examples.json, pause.json and, with --styles, styles.npz. Parts: `random` (phrases of the exam's grammar, by
its weights), `pairs` (phrases that differ by one -teen and -ty from another phrase, which is said as well), `paused`
(phrases in two pieces, cut between words), `turns` (talk of a consulting room), and with a folder of lists (phrases.tsv
with the column utterance, not_for_the_log.tsv with the column sentence) `list` and `not_for_log`. What
has several meanings, or none, is left out later (tests/corpora/spoilt.py).
"""

from __future__ import annotations

import argparse
import csv
import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import islice
from pathlib import Path
from random import Random

from tests.corpora.talk import conversation
from tests.corpora.voices import Voice, select
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.phrases.grammar import load_named
from voicelog.phrases.sampler import samples

from .phonemes import LONGEST, Reader, pack_styles

TEENS = ("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
TIES = ("thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
LIKE = dict(zip((*TEENS, *TIES), (*TIES, *TEENS), strict=True))
MOST_OF_ONE = 4
SIX = 6
"""Voices that say pairs and the list."""
LIST_SHARE = 3
"""Of five phrases of the list so many are said: the others are kept for judging."""


@dataclass(frozen=True, slots=True)
class Example:
    """Texts that are said in one go (one, but for `paused`), their tokens, and by whom."""

    name: str
    texts: tuple[str, ...]
    tokens: tuple[list[int], ...]
    voice: str
    style: str
    rate: float


@dataclass(frozen=True, slots=True)
class Counts:
    """How many of each part."""

    random: int
    pairs: int
    paused: int
    turns: int
    list_voices: int
    talk_voices: int


def drawn(chance: Random) -> Iterator[str]:
    """Endless phrases of the exam by the grammar's weights, none more than MOST_OF_ONE times."""
    seen: Counter[str] = Counter()
    for sample in samples(load_named("en").walker(EXAM_RULES), chance, seldom=False):
        if seen[sample.text] < MOST_OF_ONE:
            seen[sample.text] += 1
            yield sample.text


def pairs(chance: Random) -> Iterator[tuple[str, str]]:
    """Endless pairs of phrases that differ by one word, a -teen or a -ty."""
    seen: set[str] = set()
    for text in drawn(chance):
        words = text.split()
        places = [place for place, word in enumerate(words) if word in LIKE]
        if places:
            place = chance.choice(places)
            other = " ".join([*words[:place], LIKE[words[place]], *words[place + 1 :]])
            if not {text, other} & seen:
                seen |= {text, other}
                yield text, other


def of_list(folder: Path) -> list[str]:
    """The phrases of the list that are said."""
    return [
        text
        for number, text in enumerate(_column(folder / "phrases.tsv", "utterance"))
        if number % 5 < LIST_SHARE
    ]


def _column(path: Path, name: str) -> list[str]:
    with path.open(encoding="utf-8", newline="") as file:
        return [row[name] for row in csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)]


class Cast:
    """The natural voices of one half, and what they say."""

    def __init__(self, split: str) -> None:
        self._reader = Reader()
        self.voices = [voice for voice in select(split=split, natural_only=True) if voice.engine == "kokoro"]

    def pause(self) -> list[int]:
        """Tokens of the silence between texts."""
        return self._reader.pause()

    def example(self, name: str, texts: Sequence[str], voice: Voice) -> Example | None:
        """`texts` by `voice`; None where they are too long for one go."""
        tokens = tuple(self._reader.tokens(text, voice.british) for text in texts)
        if sum(map(len, tokens)) + len(tokens) * len(self.pause()) >= LONGEST:
            return None
        return Example(name, tuple(texts), tokens, voice.name, voice.engine_voice, voice.rate)


def texts_of(
    counts: Counts, devset: Path | None, seed: int
) -> Iterator[tuple[str, list[tuple[str, ...]], int]]:
    """Name of a part, its texts, and by how many voices each is said."""
    yield "random", [(text,) for text in islice(drawn(Random(seed)), counts.random)], 1
    two = islice(pairs(Random(seed + 1)), counts.pairs // 2)
    yield "pairs", [(text,) for pair in two for text in pair], 1
    long = (text for text in drawn(Random(seed + 2)) if 3 <= len(text.split()) <= 9)
    whole = [text.split() for text in islice(long, counts.paused)]
    yield "paused", [(" ".join(w[:at]), " ".join(w[at:])) for w in whole for at in range(1, len(w))], 1
    talk = conversation(Random(seed + 3))
    yield "turns", [(turn.text,) for turn in islice(talk, counts.turns)], 1
    if devset is not None:
        yield "list", [(text,) for text in of_list(devset)], counts.list_voices
        sentences = _column(devset / "not_for_the_log.tsv", "sentence")
        yield "not_for_log", [(text,) for text in sentences], counts.talk_voices


def examples(
    cast: Cast, parts: Callable[[], Iterator[tuple[str, list[tuple[str, ...]], int]]]
) -> Iterator[Example]:
    """All examples, the voices in turn."""
    for part, texts, takes in parts():
        voices = cast.voices[:SIX] if part in ("pairs", "list") else cast.voices
        for number, each in enumerate(texts):
            for take in range(takes):
                voice = voices[(number * takes + take) % len(voices)]
                said = cast.example(f"{part}/{number:04}-{take}", each, voice)
                if said is not None:
                    yield said


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the examples."""
    parser = argparse.ArgumentParser(description="Examples to measure with.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--split", choices=("test", "tuning"), required=True)
    parser.add_argument("--devset", type=Path)
    parser.add_argument("--styles", type=Path)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--random", type=int, default=2_000)
    parser.add_argument("--pairs", type=int, default=300)
    parser.add_argument("--paused", type=int, default=60)
    parser.add_argument("--turns", type=int, default=1_500)
    parser.add_argument("--list-voices", type=int, default=SIX)
    parser.add_argument("--talk-voices", type=int, default=3)
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    counts = Counts(
        given.random, given.pairs, given.paused, given.turns, given.list_voices, given.talk_voices
    )
    cast = Cast(given.split)
    said = list(examples(cast, lambda: texts_of(counts, given.devset, given.seed)))
    (given.out / "examples.json").write_text(json.dumps([asdict(each) for each in said]), "utf-8")
    (given.out / "pause.json").write_text(json.dumps(cast.pause()), "utf-8")
    if given.styles is not None:
        pack_styles(given.styles, given.out / "styles.npz")
    print(Counter(each.name.partition("/")[0] for each in said))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
