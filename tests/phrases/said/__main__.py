"""python -m tests.phrases.said LIST: utterances typed in their contexts, and how many are understood as meant."""

import argparse
from pathlib import Path

from tests.phrases.said.expected import expected
from tests.phrases.said.facts import joined
from tests.phrases.said.scoring import Scored, Verdict, shares, typed
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
    scored = list(typed(options.list))
    for each in scored:
        if each.verdict in _ALWAYS_SHOWN or (options.refused and each.verdict != Verdict.RIGHT):
            _show(each)
    for verdict, share in shares(scored).items():
        print(f"{share:6.2f} %  {sum(each.verdict == verdict for each in scored):4d}  {verdict}")


def _show(each: Scored) -> None:
    print(f"{each.said.id} {each.verdict} ({each.said.weight:g}): {each.said.text}  [{each.said.context}]")
    if each.verdict != Verdict.REFUSED:
        print(f"    meant      {joined(expected(each.said.structured))}")
        print(f"    understood {joined(understood(each.line.meanings))}")
    print(f"    {each.line.reply}")


main()
