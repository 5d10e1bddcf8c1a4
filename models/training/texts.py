"""What the training voices say: trade phrases in many habits of speech, and general English.

    python -m models.training.texts OUT --wordnet FOLDER [--phrases 26000] [--sentences 6000] [--near-talk 16000]
        [--seed 1] [--barred FILE...]

OUT/texts.tsv gets the columns kind ("trade" or "general") and text; OUT/evaluation.tsv gets phrases that are kept back,
none of which (from three words on) is among the former. Trade phrases come from phrases.txt and numbers.py, two
thirds of them from the sampler of the log's own grammar; sentences from talk.txt and from the usage examples in
WordNet, and sentences that hold the log's own words and are no entries from near_talk.txt. Some phrases are said
again with one word exchanged for one that sounds like it, and phrases with a word that is seldom said by other voices:
the network spells badly what it heard a few times. --barred names lists kept for judging: no text is one of their
fields.
"""

from __future__ import annotations

import argparse
import csv
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import cycle, islice
from pathlib import Path
from random import Random
from types import MappingProxyType

from voicelog.phrases.grammar import load_named
from voicelog.phrases.sampler import samples

from . import numbers
from .neighbours import one_like

HERE = Path(__file__).parent
RULES = ("line", "line", "line", "line", "in_hand", "power", "axis", "distance")
GRAMMAR_SHARE = 0.65
EVALUATED = 480
CONTRASTED = 0.35
"""Share of the phrases that are said once more with one word exchanged for one that sounds like it."""
LEAST_OFTEN = 24
"""Times that each word of a trade phrase is said, at least."""

_NUMBERS: dict[str, Callable[[Random], str]] = {
    "power": numbers.power,
    "magnitude": numbers.magnitude,
    "axis": numbers.axis,
    "distance": numbers.distance,
    "digits": numbers.digits,
    "contrast": numbers.contrast,
    "acuity": numbers.acuity,
    "small": numbers.small,
    "clock": numbers.clock,
    "price": numbers.price,
    "age": numbers.age,
    "tens": numbers.tens,
    "year": numbers.year,
    "phone": numbers.phone,
}
_CHOICE = re.compile(r"\(([^()]*)\)")
_SLOT = re.compile(r"\{(\w+)\}")
_HEADING = re.compile(r"\[(\w+)(?: x(\d+))?\]")


class Templates:
    """Lists of templates, as phrases.txt and talk.txt hold them; `others` are further slots."""

    def __init__(
        self, path: Path, others: Mapping[str, Callable[[Random], str]] = MappingProxyType({})
    ) -> None:
        self._kinds = {**_NUMBERS, **others}
        self._lists: dict[str, tuple[list[str], list[float]]] = {}
        lines: list[str] = []
        weights: list[float] = []
        weight = 1.0
        for line in path.read_text("utf-8").splitlines():
            heading = _HEADING.fullmatch(line)
            if heading:
                lines, weights = self._lists.setdefault(heading[1], ([], []))
                weight = float(heading[2] or 1)
            elif line and not line.startswith("#"):
                lines.append(line)
                weights.append(weight)

    def draw(self, name: str, chance: Random) -> str:
        """One filled line of the list `name`. Raises KeyError for a name that is no list and no other slot."""
        if name in self._kinds:
            return self._kinds[name](chance)
        lines, weights = self._lists[name]
        line = chance.choices(lines, weights)[0]
        line = _CHOICE.sub(lambda found: chance.choice(found[1].split("|")), line)
        line = _SLOT.sub(lambda found: self.draw(found[1], chance), line)
        return " ".join(line.split())


def trade_phrases(chance: Random) -> Iterator[str]:
    """Endless phrases, from our templates and from the log's grammar."""
    templates = Templates(HERE / "phrases.txt")
    grammar = load_named("en")
    sampled = {rule: samples(grammar.walker(rule), chance) for rule in dict.fromkeys(RULES)}
    while True:
        if chance.random() < GRAMMAR_SHARE:
            yield next(sampled[chance.choice(RULES)]).text
        else:
            yield templates.draw("phrase", chance)


def room_talk(chance: Random) -> Iterator[str]:
    """Endless sentences that are no entries."""
    templates = Templates(HERE / "talk.txt")
    while True:
        yield templates.draw("sentence", chance)


def near_talk(chance: Random) -> Iterator[str]:
    """Endless sentences that are no entries but hold the words of entries, some of them a whole phrase."""
    phrases = trade_phrases(chance)
    templates = Templates(HERE / "near_talk.txt", {"entry": lambda _: next(phrases)})
    while True:
        yield templates.draw("sentence", chance)


def kept_for_judging(paths: Sequence[Path]) -> set[str]:
    """All fields of tab-separated lists."""
    return {
        field for path in paths for line in path.read_text("utf-8").splitlines() for field in line.split("\t")
    }


def wordnet_examples(folder: Path) -> list[str]:
    """The usage examples of WordNet's data files, in order, lower case, of 3 to 12 plain words."""
    found: dict[str, None] = {}
    for part in ("noun", "verb", "adj", "adv"):
        text = (folder / f"data.{part}").read_text("utf-8")
        for example in re.findall(r'"([^"]+)"', text):
            if re.fullmatch(r"[A-Za-z' ,]+", example) and 3 <= len(example.split()) <= 12:
                found[" ".join(re.sub(r"[^a-z' ]", " ", example.lower()).split())] = None
    return list(found)


def speakable(text: str) -> bool:
    """Whether a text is short enough for one clip and has letters and spaces only."""
    return bool(re.fullmatch(r"[a-z' ]+", text)) and len(text.split()) <= 20


def distinct(source: Iterable[str], count: int, most_of_one: int = 3) -> list[str]:
    """The first `count` speakable texts of an endless source, none more than `most_of_one` times."""
    seen: dict[str, int] = {}

    def wanted() -> Iterator[str]:
        for text in source:
            if speakable(text) and seen.get(text, 0) < most_of_one:
                seen[text] = seen.get(text, 0) + 1
                yield text

    return list(islice(wanted(), count))


def contrasted(texts: Sequence[str], chance: Random) -> list[str]:
    """Some of the phrases again, with one word exchanged for one that sounds like it."""
    near = (one_like(text, chance) for text in texts if chance.random() < CONTRASTED)
    return [text for text in near if text is not None]


def repeated(texts: Sequence[str], least: int) -> list[str]:
    """What must be said again, shortest first, so that each word of `texts` is said at least so often."""
    counts: Counter[str] = Counter()
    holding: dict[str, list[str]] = defaultdict(list)
    for text in sorted(texts, key=lambda each: (len(each), each)):
        words = text.split()
        counts.update(words)
        for word in dict.fromkeys(words):
            holding[word].append(text)
    again: list[str] = []
    for word in sorted(holding, key=lambda each: (counts[each], each)):
        more = list(islice(cycle(holding[word]), max(0, least - counts[word])))
        again += more
        counts.update(each for text in more for each in text.split())
    return again


def write(path: Path, rows: Sequence[tuple[str, str]]) -> None:
    """Kind and text, tab-separated, with a header."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter="\t", lineterminator="\n", quoting=csv.QUOTE_NONE)
        writer.writerow(("kind", "text"))
        writer.writerows(rows)


@dataclass(frozen=True, slots=True)
class Counts:
    """How many texts of each origin."""

    phrases: int
    sentences: int
    near_talk: int


def make(out: Path, wordnet: Path | None, counts: Counts, seed: int, judged: Sequence[Path] = ()) -> None:
    """Write both files. Without WordNet's folder all sentences are talk. `judged` are lists none of whose texts (from
    three words on) is trained on."""
    chance = Random(seed)
    kept_back = distinct(trade_phrases(Random(seed + 1)), EVALUATED, most_of_one=1)
    barred = {text for text in {*kept_back, *kept_for_judging(judged)} if len(text.split()) > 2}
    trade = [text for text in distinct(trade_phrases(chance), counts.phrases) if text not in barred]
    trade += [text for text in contrasted(trade, chance) if text not in barred]
    trade += repeated(trade, LEAST_OFTEN)
    examples = wordnet_examples(wordnet) if wordnet else []
    chance.shuffle(examples)
    general = examples[: counts.sentences * 3 // 4]
    general += distinct(room_talk(chance), counts.sentences - len(general), most_of_one=1)
    general += distinct(near_talk(chance), counts.near_talk, most_of_one=1)
    general = [text for text in general if text not in barred]
    rows = [("trade", text) for text in trade] + [("general", text) for text in general]
    chance.shuffle(rows)
    out.mkdir(parents=True, exist_ok=True)
    write(out / "texts.tsv", rows)
    write(out / "evaluation.tsv", [("trade", text) for text in kept_back])


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the texts."""
    parser = argparse.ArgumentParser(description="Make the texts that the training voices say.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--wordnet", type=Path, help="folder with WordNet's data.noun and so on")
    parser.add_argument("--phrases", type=int, default=26_000)
    parser.add_argument("--sentences", type=int, default=6_000)
    parser.add_argument("--near-talk", type=int, default=16_000)
    parser.add_argument(
        "--barred", type=Path, nargs="*", default=[], help="tab-separated lists kept for judging"
    )
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    counts = Counts(given.phrases, given.sentences, given.near_talk)
    make(given.out, given.wordnet, counts, given.seed, given.barred)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
