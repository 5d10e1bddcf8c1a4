"""The page beside a live exam: what happens is shown on it, and what is said on it is entered."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from voicelog.live.exam import LiveExam
from voicelog.page.desk import Desk, Sound
from voicelog.page.serving import PageServer
from voicelog.session import Session

_WATCHER_WAIT_S = 60.0


@contextmanager
def on_page(
    server: PageServer,
    name: str,
    running: LiveExam,
    session: Session,
    *,
    browser: bool,
    waits_for_watcher: bool = False,
) -> Iterator[Desk]:
    """Show an exam on the page while it runs; `name` is its name in the record, empty where it is not kept.

    With `waits_for_watcher` it begins when somebody watches (or after a minute).
    """

    desk = _desk(name, running, session)
    server.page.desk = desk

    def put_on(session: Session) -> None:
        """Show this exam from now on; whoever watches goes over to it."""
        nonlocal desk
        before, desk = desk, _desk(session.name, running, session)
        server.page.desk = desk
        before.end()

    running.watch(put_on)
    server.open("/", browser=browser)
    if waits_for_watcher:
        _wait_for_watcher(desk)
    try:
        yield desk
    finally:
        desk.end()


def _desk(name: str, running: LiveExam, session: Session) -> Desk:
    desk = Desk(
        name or f"not kept, begun {session.state.events[0].at.isoformat()}",
        session.state,
        say=lambda phrase: running.type_line(phrase, "page"),
        sound=lambda: _sound(running),
    )
    session.listen(desk)
    return desk


def first_start(server: PageServer) -> None:
    """Have the page ask what an exam needs to know, and wait for the answers."""
    print("first start: the page asks three questions, then the exam begins (Ctrl-C ends)", file=sys.stderr)
    server.open("/start")
    while not server.page.saved.wait(0.5):
        continue


def _sound(running: LiveExam) -> Sound:
    status = running.status()
    return Sound(
        status.level_dbfs,
        status.in_speech,
        status.notice,
        status.switch_open,
        status.turn,
        status.hint,
        status.missed,
        status.banner,
        status.view,
        status.in_force.silent,
    )


def _wait_for_watcher(desk: Desk) -> None:
    give_up_s = time.monotonic() + _WATCHER_WAIT_S
    while not desk.watched and time.monotonic() < give_up_s:
        time.sleep(0.05)
