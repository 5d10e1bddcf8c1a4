"""`voicelog exam`: live, with microphone, screen, tones, read-back, and the page beside it."""

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console

from voicelog.cli.exam_options import add_exam_options, add_kept_options, settings_of
from voicelog.cli.keeping import kept_record
from voicelog.cli.page_options import add_page_options, binding, opens_browser
from voicelog.cli.parsing import number
from voicelog.exam.acuity_lines import Notation
from voicelog.exam.summary import summary
from voicelog.hearing import portaudio
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.live import devices
from voicelog.live.exam import Ended, LiveExam, LiveOptions
from voicelog.live.exams import Exams
from voicelog.live.round import Patients
from voicelog.live.running import run_exam
from voicelog.page.beside import first_start, on_page
from voicelog.page.serving import PageServer
from voicelog.phrases.grammar import load_named
from voicelog.screen.terminal import print_result
from voicelog.session import Session
from voicelog.settings import load_settings, settings_exist

Start = Callable[[Exams], tuple[Session, Patients]]
"""What is begun with, and where further exams come from."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What is listened to, how it answers, how the exam is kept and shown."""
    add_live_options(parser)
    add_kept_options(parser)
    parser.set_defaults(run=run)


def add_live_options(parser: argparse.ArgumentParser) -> None:
    """All but whether it is kept, and under which reference."""
    add_exam_options(parser)
    parser.add_argument("--device", metavar="NAME", help="part of the microphone's name; '' for the default")
    parser.add_argument("--source", type=Path, metavar="FILE", help="a recording instead of the microphone")
    parser.add_argument("--pace", choices=("real", "fast"), default="real", help="pace of the recording")
    parser.add_argument("--volume", type=number(1.0), metavar="N", help="of tones and read-back, 0 to 1")
    parser.add_argument(
        "--read-back",
        choices=("auto", "off", "changes", "short", "full"),
        help="what is said back; auto: full with a headset, changes without one",
    )
    parser.add_argument(
        "--headset", action="store_true", default=None, help="the microphone does not hear the loudspeaker"
    )
    parser.add_argument(
        "--push-to-talk",
        action="store_true",
        help="a key or foot switch opens and closes the ear; F2, F4, F8 and F9 give orders",
    )
    parser.add_argument(
        "--pedal",
        choices=("toggle", "hold"),
        default="toggle",
        help="with --push-to-talk: press once for on and once for off, or hold down",
    )
    parser.add_argument(
        "--continue", dest="goes_on", action="store_true", help="go on with the exam that was broken off"
    )
    add_page_options(parser)


def run(options: argparse.Namespace) -> int:
    """Run a live exam with its page beside it, and print what it came to. Raises what `run_live` raises."""

    def start(exams: Exams) -> tuple[Session, Patients]:
        return exams.continued() if options.goes_on else exams.new(options.reference), exams.patients

    ended, session = run_live(options, start, keep=not options.no_record)
    print_ended(ended, session.acuity_notation, as_json=options.json)
    return 0


def run_live(
    options: argparse.Namespace, start: Start, *, keep: bool = True, opens: bool = False
) -> tuple[Ended, Session]:
    """Run exams with their page beside them until they are ended; a device that is named is remembered.

    With `opens` the first is opened as those that follow are. Where nothing was ever set and a browser can be opened,
    the page first asks what it needs to know. Raises what `live.running.run_exam` raises, PageError,
    RecordError where the exam cannot be kept, and NothingToContinueError.
    """
    if options.source is None:
        portaudio.load()  # before anything is opened or kept
    browser = opens_browser(options)
    with (
        PageServer(binding(options), settings=load_settings()) as server,
        kept_record(load_settings(), keep=keep) as journal,
    ):
        if browser and options.source is None and not settings_exist():
            first_start(server)
            browser = False  # the page goes on to the exam by itself
        settings = settings_of(options)
        grammar = load_named(settings.language)
        engine = chosen_engine(settings, grammar)
        exams = Exams(settings, engine, grammar, journal)
        broken_off = exams.broken_off
        session, patients = start(exams)
        if not options.goes_on and broken_off is not None:
            print(f"broken off: {broken_off.words}; --continue goes on with it", file=sys.stderr)
        device = None if options.source else devices.for_exam(options.device, settings.microphone)
        chosen = LiveOptions.of(
            settings,
            device=device,
            source=options.source,
            pace=options.pace,
            push_to_talk=options.push_to_talk,
            pedal=options.pedal,
            banner="" if journal is not None else "NOT KEPT: this exam is lost when it ends (--no-record)",
        )

        @contextmanager
        def beside(running: LiveExam, session: Session) -> Iterator[None]:
            with on_page(server, session.name, running, session, browser=browser):
                if opens:
                    patients.opening(session)
                yield

        return run_exam(
            session, engine, chosen, on_screen=not options.json, beside=beside, patients=patients
        ), session


def print_ended(ended: Ended, notation: Notation | None, *, as_json: bool) -> None:
    """What the last exam came to; as JSON with figures of the listening."""
    if as_json:
        print(json.dumps(summary(ended.state) | {"live": ended.figures}, indent=2))
    else:
        print_result(Console(), ended.state, notation)
