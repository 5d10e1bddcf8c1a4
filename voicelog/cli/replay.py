"""`voicelog replay`: a whole recorded exam."""

import argparse
import sys
from contextlib import nullcontext
from functools import partial
from pathlib import Path
from typing import Literal

from rich.console import Console
from rich.live import Live

from voicelog.cli.exam_options import add_exam_options, add_kept_options, settings_of
from voicelog.cli.keeping import kept
from voicelog.cli.printing import entered, print_exam, print_kept
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.sources import SAMPLE_RATE_HZ, FileSource
from voicelog.phrases.grammar import load_named
from voicelog.record.inert import inert
from voicelog.screen.terminal import screen
from voicelog.session import Session
from voicelog.settings import Settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """A recording, and how its exam is understood and kept."""
    parser.add_argument(
        "audio", type=Path, metavar="AUDIO", help="a recording: WAV, FLAC or OGG, 8 kHz or more"
    )
    add_exam_options(parser)
    add_kept_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """2 when the record refused an entry."""
    all_entered = replay(
        options.audio,
        settings_of(options),
        as_json=options.json,
        keep=not options.no_record,
        reference=options.reference,
    )
    return 0 if all_entered else 2


def replay(
    path: Path,
    settings: Settings,
    *,
    as_json: bool,
    pace: Literal["fast", "real"] = "fast",
    keep: bool = False,
    reference: str = "",
) -> bool:
    """Run a recorded exam through a session and print it; False when the record refused an entry, which ends it."""
    all_entered = True
    source = FileSource(path, pace)
    grammar = load_named(settings.language)
    engine = chosen_engine(settings, grammar)
    with kept(settings, keep=keep) as store:
        session = Session(settings, engine=engine, grammar=grammar, store=store, reference=reference)
        with (
            nullcontext()
            if as_json
            else Live(console=Console(), refresh_per_second=8, transient=True) as live
        ):
            for utterance in utterances(source.blocks()):
                at = f"what was said at {utterance.start_sample / SAMPLE_RATE_HZ:.1f} s"
                all_entered = entered(partial(session.hear, utterance), at)
                if not all_entered:
                    break
                if live is not None:
                    live.update(screen(session.state, notation=session.acuity_notation))
        for note in source.notes:
            print(inert(f"{path}: {note}"), file=sys.stderr)
        print_exam(session, as_json=as_json)
        if keep and not as_json:
            print_kept(session, keep=keep)
    return all_entered
