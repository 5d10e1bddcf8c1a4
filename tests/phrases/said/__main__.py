"""python -m tests.phrases.said LIST: utterances typed in their contexts, and how many are understood as meant.

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
from tests.phrases.said.talk import MOMENTS, strays
from tests.phrases.said.understood import understood

_ALWAYS_SHOWN = (Verdict.WRONG, Verdict.ASKED_ELSE)


def main() -> None:
    """Type a list and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("list", type=Path, help="a file with columns as in phrases.tsv")
    parser.add_argument(
        "--refused", action="store_true", help="show what was refused and asked about as well"
    )
    options = parser.parse_args()
    if options.list.suffix == ".md":
        _of_examinations(options.list, everything=options.refused)
        return
    if "sentence" in options.list.read_text(encoding="utf-8").partition("\n")[0].split("\t"):
        _of_talk(options.list)
        return
    scored = list(typed(options.list))
    for each in scored:
        if each.verdict in _ALWAYS_SHOWN or (options.refused and each.verdict != Verdict.RIGHT):
            _show(each)
    for verdict, share in shares(scored).items():
        print(f"{share:6.2f} %  {sum(each.verdict == verdict for each in scored):4d}  {verdict}")


def _of_talk(path: Path) -> None:
    found = list(strays(path))
    for each in found:
        print(f"{each.id} {each.did} ({each.speaker}): {each.sentence}  [{each.moment}]\n    {each.reply}")
    typed_in = sum(1 for _ in sentences(path))
    print(f"{typed_in} sentences at {len(MOMENTS)} moments")
    for (did, moment), count in sorted(Counter((each.did, each.moment) for each in found).items()):
        print(f"{count:5d}  {did}, {moment}")


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
    if each.verdict != Verdict.REFUSED:
        print(f"    meant      {joined(expected(each.said.structured))}")
        print(f"    understood {joined(understood(each.line.meanings))}")
    print(f"    {each.line.reply}")


main()
