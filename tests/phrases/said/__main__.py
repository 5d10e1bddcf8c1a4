"""python -m tests.phrases.said LIST: utterances typed in their contexts, and how many are understood as meant.

With --spoken CORPUS its clips are heard instead of typed: of the corpus' sets `list` and `not_for_log`, made of these two lists.

A file of whole examinations (*.md) is typed line by line. A list of other talk (columns id, speaker, sentence) is typed with nothing asked and with every kind of question open.
"""

import argparse
from collections import Counter
from pathlib import Path

from tests.phrases.said.dialogues import examinations, played
from tests.phrases.said.expected import expected
from tests.phrases.said.facts import joined
from tests.phrases.said.lists import sentences
from tests.phrases.said.scoring import Scored, Verdict, shares, typed
from tests.phrases.said.spoken import clips, spoken, spoken_strays
from tests.phrases.said.talk import MOMENTS, strays
from tests.phrases.said.understood import understood
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.engines.protocol import Engine
from voicelog.phrases.grammar import load_named
from voicelog.settings import Settings

_ALWAYS_SHOWN = (Verdict.WRONG, Verdict.ASKED_ELSE)


def main() -> None:
    """Type a list and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("list", type=Path, help="a file with columns as in phrases.tsv")
    parser.add_argument(
        "--refused", action="store_true", help="show what was refused and asked about as well"
    )
    parser.add_argument("--spoken", type=Path, metavar="CORPUS", help="a folder with manifest.tsv and clips")
    parser.add_argument("--most", type=int, default=0, help="so many clips, by lot; 0: all")
    options = parser.parse_args()
    if options.list.suffix == ".md":
        _of_examinations(options.list, everything=options.refused)
        return
    if "sentence" in options.list.read_text(encoding="utf-8").partition("\n")[0].split("\t"):
        _of_talk(options.list, options.spoken, options.most)
        return
    if options.spoken is None:
        scored = list(typed(options.list))
    else:
        scored = list(spoken(options.list, clips(options.spoken, "list", options.most), _engine()))
    for each in scored:
        if each.verdict in _ALWAYS_SHOWN or (options.refused and each.verdict != Verdict.RIGHT):
            _show(each)
    for verdict, share in shares(scored).items():
        print(f"{share:6.2f} %  {sum(each.verdict == verdict for each in scored):4d}  {verdict}")


def _engine() -> Engine:
    """What an exam listens with."""
    return chosen_engine(Settings(), load_named("en"))


def _of_talk(path: Path, corpus: Path | None, most: int) -> None:
    if corpus is None:
        found, count = list(strays(path)), sum(1 for _ in sentences(path))
    else:
        chosen = clips(corpus, "not_for_log", most)
        found, count = list(spoken_strays(chosen, _engine())), len(chosen)
    for each in found:
        print(f"{each.id} {each.did} ({each.speaker}): {each.sentence}  [{each.moment}]\n    {each.reply}")
    print(f"{count} sentences at {len(MOMENTS)} moments")
    for (did, moment), times in sorted(Counter((each.did, each.moment) for each in found).items()):
        print(f"{times:5d}  {did}, {moment}")


def _of_examinations(path: Path, *, everything: bool) -> None:
    counts: Counter[str] = Counter()
    for each in examinations(path):
        found = played(each, others=True)
        counts.update(found.eyes.values())
        print(
            f"{each.title}: {', '.join(f'{eye} {came}' for eye, came in found.eyes.items())}  [{each.asks}]"
        )
        for sentence in found.entered_by_others:
            print(f"    entered, of another person: {sentence}")
        if everything:
            print("".join(f"    refused: {said}\n" for said in found.refused), end="")
            print("".join(f"    asked: {said}\n" for said in found.asked), end="")
    print(dict(counts))


def _show(each: Scored) -> None:
    print(f"{each.said.id} {each.verdict} ({each.said.weight:g}): {each.said.text}  [{each.said.context}]")
    if each.verdict not in (Verdict.REFUSED, Verdict.NO_TRACE):
        print(f"    meant      {joined(expected(each.said.structured))}")
        meanings = [meaning for line in each.lines for meaning in line.meanings]
        print(f"    understood {joined(understood(meanings))}")
    for line in each.lines:
        print(f"    {line.reply}")


main()
