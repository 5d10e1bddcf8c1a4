"""`voicelog phrases`: the phrase card, or random phrases."""

import argparse
from collections.abc import Sequence
from itertools import islice
from random import Random, SystemRandom

from rich.console import Console
from rich.table import Table

from voicelog.cli.parsing import whole_number
from voicelog.errors import VoicelogError
from voicelog.phrases.card import CardItem, phrase_card
from voicelog.phrases.grammar import LINE_RULE, load_named
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.sampler import samples
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How many random phrases, and of which rule."""
    parser.add_argument("--sample", type=whole_number(1), metavar="N", help="print N random phrases instead")
    parser.add_argument("--seed", type=whole_number(), metavar="N", help="the same phrases every time")
    parser.add_argument(
        "--rule", metavar="NAME", help="with --sample: phrases of one rule of the grammar only"
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print them. Raises UnknownRuleError."""
    grammar = load_named(load_settings().language)
    if options.sample is None:
        if options.rule is not None:
            raise VoicelogError("--rule needs --sample N: the card has all rules")
        for page, title in ((1, "what may be said"), (2, "and now and then")):
            Console().print(_card([item for item in phrase_card(grammar) if item.page == page], title))
        return 0
    rule = LINE_RULE if options.rule is None else options.rule
    random = Random(options.seed) if options.seed is not None else SystemRandom()
    reader = LineReader(grammar, rule)
    drawn = (sample.text for sample in samples(grammar.walker(rule), random, seldom=False))
    for text in islice((text for text in drawn if _is_understood(reader, text)), options.sample):
        print(text)
    return 0


def _is_understood(reader: LineReader, text: str) -> bool:
    """Whether a line says one thing plainly: what would be asked about is no example to practise."""
    try:
        return bool(reader.understand(text).readings)
    except NotAPhraseError:
        return False


def _card(items: Sequence[CardItem], title: str) -> Table:
    table = Table(title=title, show_lines=True)
    table.add_column("entry")
    table.add_column("for example")
    for item in items:
        table.add_row(item.summary, "\n".join(item.examples))
    return table
