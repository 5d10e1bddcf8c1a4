"""`voicelog bench calibrate`: choose the limits on one half of the speakers, report on the other."""

import argparse
import json
from pathlib import Path

from voicelog.cli.bench_options import add_selection_options, say, selection_of
from voicelog.cli.parsing import number
from voicelog.measuring.calibrating import calibrate, in_one_line
from voicelog.measuring.choosing import Target
from voicelog.measuring.writing import check_writable, write
from voicelog.phrases.grammar import load_named
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """On what, for whom, and what the limits must keep."""
    add_selection_options(parser)
    parser.add_argument("--listener", default="joint", help="whose limits (default: joint)")
    parser.add_argument(
        "--silently-wrong",
        type=number(most=1, what="share"),
        default=0.001,
        metavar="SHARE",
        help="greatest share of phrases (default: 0.001)",
    )
    parser.add_argument(
        "--talk-entered",
        type=number(),
        default=0.0,
        metavar="N",
        help="greatest entries an hour of other talk",
    )
    parser.add_argument(
        "--talk-asked",
        type=number(),
        default=1.0,
        metavar="N",
        help="greatest questions in ten minutes of it",
    )
    parser.add_argument("--to", type=Path, metavar="FILE.toml", help="write the file of limits")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Choose, write the file of limits, and print what they come to.

    Raises MeasuringError, and writes nothing, when no limits keep the target.
    """
    check_writable(options.to, options.json)
    target = Target(options.silently_wrong, options.talk_entered, options.talk_asked)
    done = calibrate(
        selection_of(options), load_named(load_settings().language), options.listener, target, say
    )
    if options.to is not None:
        write(options.to, done.text)
    if options.json is not None:
        write(options.json, json.dumps(done.as_json(), indent=1) + "\n")
    for title, each in done.report.items():
        print(f"{title:24} {in_one_line(each)}")
    print(f"\n{done.text}", end="")
    return 0
