"""Which words sound like which: what training holds apart from what was said.

    python -m models.training.alike INPUTS

INPUTS is what phonemes.py made. It gets alike.json: for every word of the trade phrases the words of these phrases that
are nearest to it by their phonemes, nearest first. Words that may sound the same are not among them. On tuning voices
most rivals are such words, and few are values: "then" for "ten", "so" for "cyl", "both are" for "then well".
"""

from __future__ import annotations

import argparse
import importlib.resources
import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

Phonemes = tuple[str, ...]

NEAREST = 10
FARTHEST = 0.62
"""Of a word's phonemes so much may differ."""
LEFT_OUT = 0.8
"""What a phoneme costs that only one word has, beside 1 for one in place of another."""
OFTEN = 0.08
"""Share of a word's pronunciations below which one does not count."""
CLASSES = (
    "pbtdkɡ",
    "bdɡ",
    "ptk",
    "fvθðszʃʒh",
    "vðzʒ",
    "fθsʃ",
    "mnŋ",
    "lɹɾwj",
    "pbmfvw",
    "tdnszlθð",
    "kɡŋ",
    "ʧʤʃʒtd",
)
"""Consonants that are said alike, by manner, voice or place (International Phonetic Association, Handbook, 1999)."""
VOWELS = frozenset("aiuəɛɪʊʌɔɑɒæɜeoAIOQWYᵊɚɐ")
_SPACE, _STRESS = " ", "ˈˌː,."


def cost(one: str, other: str) -> float:
    """What it costs to take one phoneme for another, 0 to 1."""
    if one == other:
        return 0.0
    vowels = (one in VOWELS) + (other in VOWELS)
    if vowels == 2:
        return 0.45
    if vowels:
        return 1.0
    shared = sum(one in each and other in each for each in CLASSES)
    return (1.0, 0.7, 0.5, 0.4)[min(shared, 3)]


def distance(one: Phonemes, other: Phonemes) -> float:
    """The least cost of making one word of the other, divided by the length of the longer."""
    row = [LEFT_OUT * place for place in range(len(other) + 1)]
    for number, mine in enumerate(one, 1):
        before, row[0] = row[0], LEFT_OUT * number
        for place, theirs in enumerate(other, 1):
            exchanged = before + cost(mine, theirs)
            before = row[place]
            row[place] = min(exchanged, row[place] + LEFT_OUT, row[place - 1] + LEFT_OUT)
    return row[-1] / max(len(one), len(other), 1)


def pronunciations(
    items: Iterable[Mapping[str, object]], symbols: Mapping[int, str]
) -> dict[str, set[Phonemes]]:
    """How the words of trade phrases are said, from what phonemes.py wrote."""
    counted: dict[str, Counter[Phonemes]] = defaultdict(Counter)
    for item in items:
        letters = "".join(symbols[each] for each in item["tokens"])  # type: ignore[attr-defined]
        said = letters.removeprefix(",").split()
        words = str(item["text"]).split()
        if item["kind"] == "trade" and len(said) == len(words):
            for word, sounds in zip(words, said, strict=True):
                counted[word][tuple(each for each in sounds if each not in _STRESS)] += 1
    return {
        word: {sounds for sounds, times in found.items() if times >= OFTEN * found.total()}
        for word, found in counted.items()
    }


def nearest(words: Mapping[str, set[Phonemes]]) -> dict[str, list[str]]:
    """For each word those that sound like it, nearest first; none that may sound the same."""
    found: dict[str, list[str]] = {}
    for word, own in words.items():
        far = {
            other: min(distance(a, b) for a in own for b in theirs)
            for other, theirs in words.items()
            if other != word and own and theirs and own.isdisjoint(theirs)
        }
        near = sorted((each for each in far if 0 < far[each] <= FARTHEST), key=lambda each: far[each])
        # What an apostrophe joins to a word is seldom said and near to it.
        if near := [each for each in near[:NEAREST] if "'" not in each]:
            found[word] = near
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Write alike.json."""
    parser = argparse.ArgumentParser(description="Words that sound alike.")
    parser.add_argument("inputs", type=Path)
    given = parser.parse_args(arguments)
    vocabulary = (importlib.resources.files("hibari") / "assets" / "vocab.json").read_text("utf-8")
    symbols = {number: letter for letter, number in json.loads(vocabulary).items()}
    items = json.loads((given.inputs / "phonemes.json").read_text("utf-8"))
    (given.inputs / "alike.json").write_text(json.dumps(nearest(pronunciations(items, symbols))), "utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
