"""The commands that serve the page."""

import argparse
import html
import http.client
import json
import re
import subprocess
import sys
import threading
import time
import webbrowser
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

import pytest

from tests.live.test_exam_from_file import TWO_PHRASES, Script
from voicelog.cli import exam, main, parsed
from voicelog.cli.page_options import binding, opens_browser
from voicelog.errors import MissingPartError
from voicelog.page.access import Access, Binding
from voicelog.settings import Settings, settings_exist


def options(*arguments: str) -> argparse.Namespace:
    """As the command line gives them."""
    return parsed(arguments)


@pytest.fixture(name="opened")
def _opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A desktop whose browser only notes what it was to open."""
    addresses: list[str] = []
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr(webbrowser, "open", addresses.append)
    return addresses


def test_an_exam_prints_the_pages_address_and_opens_it(
    opened: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    script = Script("right eye", "streak vertical neutral at plus one")
    monkeypatch.setattr(exam, "chosen_engine", lambda *_: script)

    assert main(["exam", "--source", str(TWO_PHRASES), "--pace", "fast", "--no-record"]) == 0

    printed = capsys.readouterr()
    assert "right eye" in printed.out
    (given,) = opened
    assert given.startswith("file:///")
    assert f"for another browser: {given}\n" in printed.err
    assert "page: http://127.0.0.1:" in printed.err


@pytest.mark.parametrize("given", [("--no-open",), ("--json",)])
def test_no_browser_is_opened_when_it_is_not_wanted(
    opened: list[str],
    given: tuple[str, ...],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(exam, "chosen_engine", lambda *_: Script("right eye", "left eye"))

    assert main(["exam", "--source", str(TWO_PHRASES), "--pace", "fast", "--no-record", *given]) == 0

    assert opened == []
    assert "page: http" in capsys.readouterr().err


def test_without_a_desktop_no_browser_takes_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert not opens_browser(options("review"))
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert opens_browser(options("review"))


def test_a_first_exam_waits_for_the_three_answers(
    opened: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    begun: list[Settings] = []

    def engine(settings: Settings, *_: Any) -> Any:
        begun.append(settings)
        raise MissingPartError("here the exam would begin")

    monkeypatch.setattr(exam, "chosen_engine", engine)
    worker = threading.Thread(target=main, args=(["exam"],))
    worker.start()
    give_up_s = time.monotonic() + 10
    while not opened and time.monotonic() < give_up_s:
        time.sleep(0.01)
    way_in = url2pathname(urlsplit(opened[0]).path)
    found = re.search(r'<a href="([^"]+)">', Path(way_in).read_text(encoding="utf-8"))
    assert found is not None
    address = urlsplit(html.unescape(found[1]))
    assert address.path == "/start"
    time.sleep(0.2)
    assert begun == []
    connection = http.client.HTTPConnection(address.netloc, timeout=10)
    connection.request("GET", f"{address.path}?{address.query}")
    answer = connection.getresponse()
    answer.read()
    cookie, base = str(answer.headers["set-cookie"]), str(answer.headers["location"]).removesuffix("/start")
    headers = {
        "Content-Type": "application/json",
        "Origin": f"{address.scheme}://{address.netloc}",
        "Cookie": cookie.split(";", 1)[0],
    }
    data = json.dumps({"naming": "meridian", "working_distance_cm": 50})
    connection.request("PATCH", f"{base}/api/settings", data, headers)
    assert connection.getresponse().status == 200
    connection.close()
    worker.join(10)

    assert settings_exist()
    assert [(each.naming, each.working_distance_cm) for each in begun] == [("meridian", 50.0)]
    assert "first start" in capsys.readouterr().err


def test_the_demo_without_a_port_needs_no_page() -> None:
    """The terminal's demo does not even load what the page is made of."""
    script = (
        "import sys, voicelog.cli, voicelog.cli.demo as demo; demo.replay = lambda *a, **k: None;"
        "voicelog.cli.main(['demo']); print([n for n in ('fastapi', 'uvicorn', 'jinja2') if n in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.strip() == "[]"


def test_the_review_says_what_is_wrong_with_the_record(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    place = tmp_path_factory.mktemp("taken") / "file"
    place.write_text("no folder", encoding="utf-8")
    monkeypatch.setenv("VOICELOG_DATA", str(place))

    assert main(["review", "--no-open"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_where_the_page_is_served_is_as_given(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICELOG_PASSPHRASE", "seven blue lenses")
    assert binding(options("review", "--port", "8000")) == Binding(port=8000, passphrase="seven blue lenses")
    assert options("demo").port is None
    six = Access.at(Binding(host="::1"), 8000)
    assert six.origins == {"http://[::1]:8000", "http://localhost:8000"}
