"""`voicelog phrases`: the phrase card, or random phrases."""

import argparse
from itertools import islice
from random import Random, SystemRandom

from rich.console import Console
from rich.table import Table

from voicelog.cli.parsing import whole_number
from voicelog.phrases.card import phrase_card
from voicelog.phrases.grammar import LINE_RULE, Grammar, load_named
from voicelog.phrases.sampler import samples
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How many random phrases, and of which rule."""
    parser.add_argument("--sample", type=whole_number(), metavar="N", help="print N random phrases instead")
    parser.add_argument("--seed", type=int, help="the same phrases every time")
    parser.add_argument("--rule", default=LINE_RULE, help="phrases of one rule only")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print them. Raises UnknownRuleError."""
    grammar = load_named(load_settings().language)
    if options.sample is None:
        Console().print(_card(grammar))
        return 0
    random = Random(options.seed) if options.seed is not None else SystemRandom()
    for sample in islice(samples(grammar.walker(options.rule), random), options.sample):
        print(sample.text)
    return 0


def _card(grammar: Grammar) -> Table:
    table = Table(title="what may be said", show_lines=True)
    table.add_column("entry")
    table.add_column("for example")
    for item in phrase_card(grammar):
        table.add_row(item.summary, "\n".join(item.examples))
    return table
