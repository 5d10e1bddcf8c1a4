"""The commands that serve the page: a live exam, the demo, the review; each takes its options as they were given."""

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from pathlib import Path

from voicelog.hearing.engines.protocol import Engine
from voicelog.live import commands as live
from voicelog.live.exam import LiveExam
from voicelog.page.arguments import binding, opens_browser
from voicelog.page.desk import Desk, Sound
from voicelog.page.serving import PageServer
from voicelog.session import Session, Store
from voicelog.settings import Settings, load_settings, settings_exist

_WATCHER_WAIT_S = 60.0

MakeEngine = Callable[[Settings], Engine]
Keep = Callable[[Settings], AbstractContextManager[Store | None]]


def exam(
    options: argparse.Namespace, settings: Callable[[], Settings], *, engine: MakeEngine, kept: Keep
) -> None:
    """Run a live exam with its page beside it.

    Where nothing was ever set and a browser can be opened, the page first asks what it needs to know. Raises what
    `live.commands.exam` raises, and PageError.
    """
    browser = opens_browser(options)
    with PageServer(binding(options), settings=load_settings()) as server:
        if browser and options.source is None and not settings_exist():
            _first_start(server)
            browser = False  # the page goes on to the exam by itself
        in_force = settings()
        listener = engine(in_force)
        with kept(in_force) as store:
            live.exam(
                in_force,
                listener,
                device=options.device,
                source=options.source,
                pace=options.pace,
                push_to_talk=options.push_to_talk,
                pedal=options.pedal,
                reference=options.reference,
                store=store,
                as_json=options.json,
                beside=partial(on_page, server, _name_of(store), browser=browser),
            )


def demo(options: argparse.Namespace, settings: Settings, recording: Path, engine: MakeEngine) -> None:
    """Play the demo to the page once somebody watches, and go on with what is typed there until it is ended."""
    browser = opens_browser(options)
    with PageServer(binding(options), settings=settings) as server:

        @contextmanager
        def watched(running: LiveExam, session: Session) -> Iterator[None]:
            with on_page(server, "", running, session, browser=browser) as desk:
                _wait_for_watcher(desk)
                yield

        live.exam(
            settings,
            engine(settings),
            source=recording,
            pace=options.pace,
            stay=True,
            as_json=options.json,
            beside=watched,
        )


def review(options: argparse.Namespace) -> None:
    """Serve the exams that were kept, until Ctrl-C."""
    with PageServer(binding(options), settings=load_settings()) as server:
        _ = server.page.journal  # what is wrong with the record is said here as well, not in the browser only
        server.open("/review", browser=opens_browser(options))
        while True:
            time.sleep(3600)


@contextmanager
def on_page(
    server: PageServer, name: str, running: LiveExam, session: Session, *, browser: bool
) -> Iterator[Desk]:
    """Show an exam on the page while it runs; `name` is its name in the record, empty where it is not kept."""
    desk = Desk(
        name or f"not kept, begun {session.state.events[0].at.isoformat()}",
        session.state,
        say=lambda phrase: running.type_line(phrase, "page"),
        sound=lambda: _sound(running),
    )
    session.listen(desk)
    server.page.desk = desk
    server.open("/", browser=browser)
    try:
        yield desk
    finally:
        desk.end()


def _name_of(store: Store | None) -> str:
    name = getattr(store, "exam", "")
    return name if isinstance(name, str) else ""


def _sound(running: LiveExam) -> Sound:
    status = running.status()
    return Sound(status.level_dbfs, status.in_speech, status.notice, status.switch_open)


def _first_start(server: PageServer) -> None:
    print("first start: the page asks three questions, then the exam begins (Ctrl-C ends)", file=sys.stderr)
    server.open("/start")
    while not server.page.saved.wait(0.5):
        continue


def _wait_for_watcher(desk: Desk) -> None:
    give_up_s = time.monotonic() + _WATCHER_WAIT_S
    while not desk.watched and time.monotonic() < give_up_s:
        time.sleep(0.05)
