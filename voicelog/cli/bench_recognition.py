"""`voicelog bench recognition`: how often phrases are entered right, asked about, silently wrong; and other talk."""

import argparse
import json
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from voicelog import __version__
from voicelog.cli.bench_options import add_selection_options, names, say, selection_of
from voicelog.measuring import reporting
from voicelog.measuring.counting import Counted, counted
from voicelog.measuring.listeners import DEFAULT_NAMES, checked_names, judge_of
from voicelog.measuring.plot import svg
from voicelog.measuring.writing import check_writable, write
from voicelog.phrases.grammar import load_named
from voicelog.settings import load_settings

_WIDTH = 200  # characters of a line; a narrower terminal folds it, and loses nothing


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What is measured, whose hearing, and what is written."""
    add_selection_options(parser)
    parser.add_argument(
        "--listeners",
        type=names,
        metavar="A,B",
        help="of letters and joint (the policies single and normal), moonshine, free (its dictation, then parsing), "
        "normal and cautious (moonshine with sphinx), sphinx, sphinx-forced; the first four unless named",
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write all counts")
    parser.add_argument("--plot", type=Path, metavar="FILE.svg", help="draw them against noise")
    parser.add_argument("--misses", action="store_true", help="name every phrase that was not entered right")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Measure listeners over corpora; print tables, and write JSON and a plot where wanted.

    Raises VoicelogError for manifests, recordings or names that cannot be used.
    """
    grammar, selection = load_named(load_settings().language), selection_of(options)
    listeners = checked_names(options.listeners or DEFAULT_NAMES)
    limits = {name: selection.limits_in_force(name) for name in listeners}
    rows = selection.rows(grammar)
    check_writable(options.json, options.plot)
    heard = selection.heard(rows, listeners, grammar, say)
    found = counted((name, heard.cases(name), judge_of(name, grammar, limits[name])) for name in listeners)
    made = reporting.Made(
        at=datetime.now(UTC),
        corpora=selection.names,
        listeners=listeners,
        limits=limits,
        jobs=selection.jobs,
        sample=selection.sample,
        seed=selection.seed,
        stale=heard.stale(),
    )
    if options.json is not None:
        data = reporting.as_json(found, made, with_misses=options.misses)
        write(options.json, json.dumps(data, indent=1) + "\n")
    if options.plot is not None:
        write(options.plot, svg(found))
    _print(found, misses=options.misses)
    here = reporting.machine()
    print(
        f"counted {made.at:%Y-%m-%d %H:%M} UTC with voicelog {__version__} on {here['system']}, {here['cores']} cores; "
        f"shares with 95 % intervals; decode seconds are of when each was heard"
    )
    return 0


def _print(found: Counted, *, misses: bool) -> None:
    console = Console(width=_WIDTH)
    for table in reporting.tables(found):
        console.print(table)
        console.print()
    if found.not_phrases:
        print(f"{found.not_phrases} rows have a transcript that is no phrase: counted as other talk")
    if misses:
        for miss in found.misses:
            print(
                f"{miss.listener}\t{miss.result}\t{miss.set_name}\t{miss.speaker}\t{miss.condition}\t"
                f"said: {miss.said or '-'}\theard: {miss.heard}"
            )
