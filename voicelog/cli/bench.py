"""`voicelog bench`: what is measured; latency here, the others in files of their own."""

import argparse
import json

from voicelog.cli import bench_calibrate, bench_recognition
from voicelog.demo import demo_audio
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.live.exam import Ended, LiveOptions
from voicelog.live.running import run_exam
from voicelog.phrases.grammar import load_named
from voicelog.session import Session
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What is measured has to be named."""
    benches = parser.add_subparsers(required=True, metavar="WHAT")
    latency = benches.add_parser("latency", help="from the end of the last word to the entry, over the demo")
    latency.add_argument("--pace", choices=("real", "fast"), default="real", help="of the demo")
    latency.add_argument("--json", action="store_true", help="print JSON")
    latency.set_defaults(run=run)
    bench_recognition.add_arguments(
        benches.add_parser(
            "recognition",
            help="how often phrases are entered right, asked about, silently wrong; and other talk",
        )
    )
    bench_calibrate.add_arguments(
        benches.add_parser(
            "calibrate", help="choose the limits on one half of the speakers, report on the other"
        )
    )


def run(options: argparse.Namespace) -> int:
    """From the end of the last word to the entry drawn on the screen, over the demo.

    Only real pace says what an examiner would wait; "fast" says what the machine can do at most.
    """
    grammar = load_named(load_settings().language)
    engine = chosen_engine(load_settings(), grammar)
    session = Session(load_settings(), engine=engine, grammar=grammar)
    given = LiveOptions(source=demo_audio(), pace=options.pace, read_back="off")
    ended = run_exam(session, engine, given, on_screen=False)
    print(json.dumps({"pace": options.pace} | ended.figures) if options.json else _line(ended, options.pace))
    return 0


def _line(ended: Ended, pace: str) -> str:
    found = ended.latency
    if found.median_s is None or found.p95_s is None:
        return "no entry was heard, so there is nothing to measure"
    return (
        f"{found.count} entries at {pace} pace: median {found.median_s:.2f} s, "
        f"95th percentile {found.p95_s:.2f} s, worst {found.worst_s:.2f} s"
    )
