"""A lesson on the page, until Ctrl-C."""

import sys
import time
from collections.abc import Callable

from voicelog.page.access import Binding
from voicelog.page.lessons import begin
from voicelog.page.serving import PageServer
from voicelog.page.watching import prepare
from voicelog.practice.exercise import Exercise
from voicelog.practice.lesson import Lesson
from voicelog.settings import Settings


def practise_on_page(
    binding: Binding,
    exercise: Exercise,
    settings: Settings,
    *,
    browser: bool,
    keeps: bool = True,
    watch: bool = False,
    advised: bool = False,
    listen: Callable[[Lesson], None] | None = None,
) -> None:
    """Serve one lesson until Ctrl-C; `listen` feeds it by voice as long as there is sound; `keeps` holds for the page.

    `watch`: the scripted examiner does it, and the page shows how; `advised`: it asks for the next lens.

    Raises PageError, and what the microphone raises.
    """
    with PageServer(binding, settings=settings) as server:
        if watch:
            prepare(server.page, exercise, settings, advised=advised)
            server.open("/practice", browser=browser)
        else:
            lesson = begin(server.page, exercise, settings, keeps=keeps)
            server.open("/practice", browser=browser)
            if listen is not None:
                listen(lesson)
        print("the page stays until Ctrl-C", file=sys.stderr)
        _stay()


def _stay() -> None:
    while True:
        time.sleep(3600)
