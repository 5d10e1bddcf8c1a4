"""The page with a session that tests drive, and requests to it with any header."""

import http.client
import json
import queue
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import BrowserContext, Page

from tests.session.test_session import hearing
from voicelog.exam.events import Source
from voicelog.page.access import Binding
from voicelog.page.desk import Desk, Sound
from voicelog.page.serving import PageServer
from voicelog.session import Session
from voicelog.settings import Settings, load_settings


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    def json(self) -> Any:
        return json.loads(self.body)


@dataclass
class Served:
    """A page that is served. Lines are taken in a thread of their own, as in a live exam."""

    server: PageServer
    session: Session
    desk: Desk | None
    exam: str = ""
    sound: Sound = field(default_factory=lambda: Sound(-40.0))
    token: str = ""
    """Of a browser that is let in."""
    waiting: "queue.Queue[tuple[str, Source] | None]" = field(default_factory=queue.Queue)

    def __post_init__(self) -> None:
        self.token = self.server.page.access.sessions.begin()

    @property
    def host(self) -> str:
        return self.server.origin.split("//")[1]

    @property
    def base(self) -> str:
        """What the path of every page begins with."""
        return self.server.page.access.base

    @property
    def cookie(self) -> str:
        """The header of a browser that is let in."""
        return f"{self.server.page.access.cookie}={self.token}"

    def say(self, *phrases: str, source: Source = "voice") -> None:
        """Say phrases, one after the other, and wait until they are taken; "voice" is heard without a fault."""
        for phrase in phrases:
            self.waiting.put((phrase, source))
        self.waiting.join()

    def everything(self, context: BrowserContext) -> None:
        """Have the live page show everything in this browser, not the far view."""
        context.add_cookies([{"name": "voicelog-view", "value": "everything", "url": self.server.origin}])

    def take(self) -> None:
        while (job := self.waiting.get()) is not None:
            phrase, source = job
            if source == "voice":
                self.session.take_heard(hearing(phrase))
            else:
                self.session.type_line(phrase, source)
            self.waiting.task_done()

    def ask(
        self,
        path: str,
        method: str = "GET",
        data: Any = None,
        *,
        token: str | None = "",
        headers: dict[str, str] | None = None,
        body: bytes | None = None,
        outside: bool = False,
    ) -> Answer:
        """One request; `token` "" is the right one, None none. Headers given here replace those of the page's own.

        `path` is that of a page, without its base, unless it is `outside`.
        """
        sent = {"Host": self.host, "Origin": self.server.origin}
        if token is not None:
            sent["Cookie"] = f"{self.server.page.access.cookie}={token}" if token else self.cookie
        if data is not None:
            body = json.dumps(data).encode()
            sent["Content-Type"] = "application/json"
        sent |= headers or {}
        address, port = self.server.bound
        connection = http.client.HTTPConnection(address, port, timeout=20)
        try:
            connection.putrequest(
                method, path if outside else self.base + path, skip_host=True, skip_accept_encoding=True
            )
            for name, value in sent.items():
                if value:
                    connection.putheader(name, value)
            if body is not None and not any(name.lower() == "content-length" for name in sent):
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders(body)
            answer = connection.getresponse()
            found = {name.lower(): value for name, value in answer.getheaders()}
            return Answer(answer.status, found, answer.read())
        finally:
            connection.close()


def wait_until(page: Page, script: str, timeout_s: float = 10.0) -> None:
    """Until a script is true on a page. (Playwright's own waiting evaluates text, which the page's policy forbids.)"""
    give_up_s = time.monotonic() + timeout_s
    while not page.evaluate(script):
        if time.monotonic() > give_up_s:
            raise TimeoutError(f"{script} was not true within {timeout_s:g} s")
        page.wait_for_timeout(20)


@contextmanager
def serve(
    *,
    live: bool = True,
    settings: Settings | None = None,
    binding: Binding | None = None,
    reference: str = "",
) -> Iterator[Served]:
    """Serve the page, with an exam under way or without."""
    settings = settings or load_settings()
    with PageServer(binding or Binding(), settings=settings) as server:
        session = Session(settings, reference=reference)
        served = Served(server, session, None)
        worker = threading.Thread(target=served.take, daemon=True)
        worker.start()
        if live:
            desk = Desk(
                "test exam",
                session.state,
                say=lambda phrase: served.waiting.put((phrase, "page")),
                sound=lambda: served.sound,
            )
            session.listen(desk)
            server.page.desk = served.desk = desk
        yield served
        served.waiting.put(None)
        worker.join()
