"""`voicelog demo`: a dictated exam through the real recogniser, to the screen or to the page."""

import argparse
from functools import partial

from voicelog.cli.exam_options import add_exam_options, settings_of
from voicelog.cli.page_options import add_page_options, binding, opens_browser
from voicelog.cli.replay import replay
from voicelog.demo import demo_audio
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.live.exam import LiveOptions
from voicelog.live.running import run_exam
from voicelog.phrases.grammar import load_named
from voicelog.session import Session


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How the exam is understood, and whether a page shows it."""
    add_exam_options(parser)
    parser.add_argument(
        "--pace", choices=("fast", "real"), default="fast", help="as fast as possible, or as spoken"
    )
    add_page_options(parser, optional=True)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Play it; with a port, to the page once somebody watches, which goes on with what is typed there."""
    if options.port is None:
        replay(demo_audio(), settings_of(options), as_json=options.json, pace=options.pace)
        return 0
    _to_page(options)
    return 0


def _to_page(options: argparse.Namespace) -> None:
    # Imported here: without a port the demo starts without what the page is made of.
    from voicelog.cli.exam import print_ended
    from voicelog.page.beside import on_page
    from voicelog.page.serving import PageServer

    settings, browser = settings_of(options), opens_browser(options)
    with PageServer(binding(options), settings=settings) as server:
        grammar = load_named(settings.language)
        engine = chosen_engine(settings, grammar)
        session = Session(settings, engine=engine, grammar=grammar)
        chosen = LiveOptions.of(settings, source=demo_audio(), pace=options.pace, stay=True)
        beside = partial(on_page, server, "", browser=browser, waits_for_watcher=True)
        ended = run_exam(session, engine, chosen, on_screen=not options.json, beside=beside)
        print_ended(ended, session.acuity_notation, as_json=options.json)
