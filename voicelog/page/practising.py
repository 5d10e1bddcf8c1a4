"""`voicelog practice --page`: one lesson on the page, fed by its lines and, where it is wanted, by voice."""

import argparse
import sys
import time
from collections.abc import Callable

from voicelog.hearing.engines.protocol import Engine
from voicelog.page.arguments import binding, opens_browser
from voicelog.page.lessons import begin
from voicelog.page.serving import PageServer
from voicelog.practice.commands import set_exercise
from voicelog.practice.errors import PracticeError
from voicelog.practice.voice import spoken
from voicelog.settings import Settings


def run(options: argparse.Namespace, settings: Settings, engine: Callable[[], Engine]) -> None:
    """Serve the lesson that the options set; with --voice the microphone feeds it too. Until Ctrl-C.

    Raises PracticeError, PageError, and what the microphone raises.
    """
    exercise = set_exercise(options, settings)
    if options.watch:
        raise PracticeError("--watch is for the terminal: leave --page away")
    with PageServer(binding(options), settings=settings) as server:
        lesson = begin(server.page, exercise, settings)
        server.open("/practice", browser=opens_browser(options))
        if options.voice:
            spoken(lesson, engine(), device=options.device, recording=options.source, as_json=options.json)
        print("the page stays until Ctrl-C", file=sys.stderr)
        _stay()


def _stay() -> None:
    while True:
        time.sleep(3600)
