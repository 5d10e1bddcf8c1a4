"""No secret of the page stands where another user, or another server in the same browser, can read it."""

import html
import http.server
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import parse_qs, urlsplit
from urllib.request import url2pathname

import pytest
from playwright.sync_api import BrowserContext

from tests.interrupts import heed_interrupts
from tests.page.served import Served
from voicelog.page.way_in import WayIn
from voicelog.record.places import data_folder


def command_lines() -> str:
    """What `ps` shows to every user."""
    lines = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            lines.append(path.read_bytes().replace(b"\0", b" ").decode(errors="replace"))
        except OSError:
            continue  # it has ended meanwhile
    return "\n".join(lines)


@contextmanager
def reviewed_in(browser: Path) -> Iterator[str]:
    """`voicelog review` as it is started on a desktop with that browser; what it printed first."""
    environment = os.environ | {"DISPLAY": ":0", "BROWSER": f"{browser} %s &"}
    with subprocess.Popen(
        [sys.executable, "-m", "voicelog", "review"],
        env=environment,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heed_interrupts,
    ) as review:
        assert review.stderr is not None
        try:
            yield review.stderr.readline()
            review.send_signal(signal.SIGINT)
            review.wait(20)
        finally:
            review.kill()


def address_in(way_in: Path) -> str:
    return html.unescape(re.findall(r'href="([^"]+)"', way_in.read_text("utf-8"))[0])


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="reads command lines in /proc")
def test_the_browser_gets_in_by_a_file_and_no_command_line_tells_a_secret(
    context: BrowserContext, tmp_path: Path
) -> None:
    """The program as it is started, with a browser that runs as long as this looks."""
    seen, browser = tmp_path / "seen", tmp_path / "browser"
    script = (
        f"import sys, time; print(sys.argv[1], file=open({str(seen)!r}, 'w'), flush=True); time.sleep(30)"
    )
    browser.write_text(f"#!{sys.executable}\n{script}\n", "utf-8")
    browser.chmod(0o700)
    with reviewed_in(browser) as printed:
        give_up_s = time.monotonic() + 30
        while not seen.exists() or not seen.read_text("utf-8").endswith("\n"):
            assert time.monotonic() < give_up_s
            time.sleep(0.05)
        given = seen.read_text("utf-8").strip()
        way_in = Path(url2pathname(urlsplit(given).path))
        modes = (way_in.stat().st_mode & 0o777, way_in.parent.stat().st_mode & 0o777)
        address = address_in(way_in)
        before = command_lines()
        page = context.new_page()
        page.goto(given)
        page.wait_for_url("**/review")
        base = urlsplit(page.url).path.split("/")[1]
        (token,) = [each["value"] for each in context.cookies(page.url) if each["name"] == "voicelog"]
        after = command_lines()
        again = address_in(way_in)

    assert modes == (0o600, 0o700)
    assert address in printed
    assert given in before, "the browser was running"
    for secret in (parse_qs(urlsplit(address).query)["launch"][0], base, token):
        assert secret not in before
        assert secret not in after
    assert again != address, "the file leads in again, by another key"
    assert not way_in.exists()


class Overheard(http.server.BaseHTTPRequestHandler):
    """Another local server, which notes everything that a browser sends it."""

    heard: list[str]

    def do_GET(self) -> None:
        self.heard.append(f"{self.path}\n{self.headers}")
        self.send_response(200)
        self.end_headers()
        self.wfile.write(b"<!doctype html><p>hello")

    def log_message(self, *_: object) -> None:
        return


@contextmanager
def overhearing(address: str) -> Iterator[tuple[str, list[str]]]:
    """Such a server at the same address, on another port."""
    handler = type("Handler", (Overheard,), {"heard": []})
    server = http.server.ThreadingHTTPServer((address, 0), handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://{address}:{server.server_address[1]}", handler.heard  # type: ignore[attr-defined]
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def test_another_server_in_the_same_browser_gets_no_token(context: BrowserContext, served: Served) -> None:
    """Cookies do not know of ports (RFC 6265, 8.5); this one's path is known to the page alone."""
    page = context.new_page()
    page.goto(served.server.address())
    (token,) = [each["value"] for each in context.cookies(page.url) if each["name"] == "voicelog"]
    with overhearing("127.0.0.1") as (other, heard):
        page.goto(f"{other}/review")
        tab = context.new_page()
        tab.goto(f"{other}/")
        tab.goto(served.server.origin + served.base + "/start")
        tab.evaluate(f"location.assign('{other}/linked')")
        tab.wait_for_url(f"{other}/linked")

    asked = "\n".join(heard)
    for path in ("/review", "/linked"):
        assert f"{path}\n" in asked
    assert token not in asked
    assert served.base not in asked


def test_a_file_that_a_killed_program_left_goes(served: Served) -> None:
    left = data_folder() / "page-1.html"
    left.parent.mkdir(parents=True)
    left.write_text("x", encoding="utf-8")
    other = data_folder() / f"page-{served.server.bound[1]}.html"
    other.write_text("x", encoding="utf-8")

    WayIn(2).write("http://127.0.0.1:2/")

    assert not left.exists()
    assert other.exists(), "that one's program is running"
