"""Who gets in: foreign hosts, foreign pages, and those without the token do not."""

import json
import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.routing import Route
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from tests.page.served import Answer, Served, serve
from voicelog.page.app import unguarded_app
from voicelog.page.routes import ROUTERS
from voicelog.settings import Settings

PATHS = sorted(
    {
        (
            method,
            route.path.replace("{exam}", "20250101-aaaaaaaa")
            .replace("{clip}", "0" * 64)
            .replace("{form}", "csv"),
        )
        for router in ROUTERS
        for route in router.routes
        if isinstance(route, Route)
        for method in route.methods or ()
    }
    | {("GET", "/static/page.js"), ("GET", "/static/page.css"), ("GET", "/openapi.json"), ("GET", "/nothing")}
)


@pytest.fixture(scope="module", name="standing")
def _standing() -> Iterator[Served]:
    """One page for all who are refused anyway."""
    with serve(settings=Settings()) as served:
        yield served


def refused(answer: Answer) -> bool:
    return answer.status == 403 and answer.body.startswith(b"refused")


@pytest.mark.parametrize(("method", "path"), PATHS)
def test_every_path_refuses_strangers(standing: Served, method: str, path: str) -> None:
    data: dict[str, Any] | None = None if method == "GET" else {}
    strangers = [
        standing.ask(path, method, data, token=None),
        standing.ask(path, method, data, token="x" * 43),
        standing.ask(path, method, data, token="\xfc"),
        standing.ask(path, method, data, headers={"Host": "evil.example"}),
        standing.ask(path, method, data, headers={"Host": f"evil.example:{standing.server.bound[1]}"}),
        standing.ask(path, method, data, headers={"Host": "127.0.0.1"}),
        # Without a body: the server itself refuses it unread, as no HTTP at all, and a reset may overtake its answer.
        standing.ask(path, method, None, headers={"Host": ""}),
        standing.ask(path, method, data, headers={"Origin": "http://evil.example"}),
        standing.ask(path, method, data, headers={"Origin": "null"}),
        standing.ask(path, method, data, headers={"Origin": "http://127.0.0.1:1"}),
        standing.ask(path, method, data, headers={"Origin": "https" + standing.server.origin[4:]}),
    ]

    assert [refused(answer) or (answer.status == 400 and at == 6) for at, answer in enumerate(strangers)] == [
        True
    ] * len(strangers)


def test_no_described_path_is_left_out(served: Served) -> None:
    described = unguarded_app(served.server.page).openapi()["paths"]
    asked = {path for _, path in PATHS}

    for path in described:
        filled = (
            path.replace("{exam}", "20250101-aaaaaaaa").replace("{clip}", "0" * 64).replace("{form}", "csv")
        )
        assert filled in asked


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_foreign_page_cannot_embed_or_fetch(served: Served, site: str) -> None:
    """Another port of this machine is the same site, so the cookie's own rule does not keep it out."""
    fetched = {"Origin": "", "Sec-Fetch-Site": site, "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}
    framed = {"Origin": "", "Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}
    link = {"Origin": "", "Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}

    assert refused(served.ask("/static/icon.svg", headers=fetched))
    assert refused(served.ask("/", headers=framed))
    assert served.ask("/", headers=link).status == 200


@pytest.mark.parametrize("method", ["POST", "PATCH", "PUT", "DELETE"])
def test_what_changes_something_must_say_where_it_comes_from(served: Served, method: str) -> None:
    assert refused(served.ask("/api/lines", method, {"line": "right eye"}, headers={"Origin": ""}))
    assert served.session.state.eye is None


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "evil.example"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Cookie": ""},
        {"Cookie": "voicelog-1=x"},
    ],
)
def test_a_foreign_websocket_is_refused(served: Served, headers: dict[str, str]) -> None:
    good = {"Origin": served.server.origin, "Cookie": served.cookie}
    host = headers.pop("Host", None)
    address = f"ws://{host or served.host}{served.base}/feed"
    sent = {name: value for name, value in (good | headers).items() if value}

    with (
        socket.create_connection(served.server.bound) as own,
        pytest.raises(InvalidStatus) as raised,
        connect(address, additional_headers=sent, sock=own, proxy=None),
    ):
        pass
    assert raised.value.response.status_code == 403


def test_the_pages_own_websocket_gets_the_state(served: Served) -> None:
    headers = {"Origin": served.server.origin, "Cookie": served.cookie}
    served.say("right eye")

    with connect(
        f"ws://{served.host}{served.base}/feed?after=0", additional_headers=headers, proxy=None
    ) as feed:
        first = json.loads(feed.recv(timeout=5))
    assert (first["kind"], first["number"]) == ("state", 1)
    assert [row["number"] for row in first["rows"]] == [1]


def launched(served: Served, path: str) -> Answer:
    """What the printed address of a page answers."""
    address = served.server.address(path).removeprefix(served.server.origin)
    return served.ask(address, token=None, headers={"Origin": ""}, outside=True)


def test_the_printed_address_sets_the_cookie_and_loses_its_key(served: Served) -> None:
    answer = launched(served, "/review")

    assert (answer.status, answer.headers["location"]) == (303, f"{served.base}/review")
    cookie = answer.headers["set-cookie"]
    for part in ("HttpOnly", "SameSite=strict", f"Path={served.base}"):
        assert part.lower() in cookie.lower()
    token = cookie.split(";")[0].split("=", 1)[1]
    assert token != served.token
    assert served.ask("/api/state", token=token).status == 200


def test_an_address_is_good_once(served: Served) -> None:
    """Whoever read it meanwhile, from a screen or a history, is not let in by it."""
    used = served.server.address().removeprefix(served.server.origin)
    assert served.ask(used, "HEAD", token=None, headers={"Origin": ""}, outside=True).status == 403

    assert launched(served, "/").status == 303
    again = served.ask(used, token=None, headers={"Origin": ""}, outside=True)

    assert refused(again)
    assert b"good once" in again.body
    assert launched(served, "/").status == 303


def test_a_wrong_key_in_the_address_lets_nobody_in(served: Served) -> None:
    assert refused(served.ask("/?launch=" + "x" * 43, token=None, headers={"Origin": ""}, outside=True))
    assert refused(served.ask("/?launch=%FC", token=None, headers={"Origin": ""}, outside=True))
    assert refused(served.ask(f"/?launch={served.token}", token=None, headers={"Origin": ""}, outside=True))


def test_the_token_is_good_within_the_page_alone(served: Served) -> None:
    for path in ("/", "/api/state", "/static/page.js", f"{served.base}x/api/state", served.base):
        assert refused(served.ask(path, outside=True)), path


def test_a_browser_that_left_is_not_let_in_and_the_others_are(served: Served) -> None:
    other = served.server.page.access.sessions.begin()
    headers = {"Origin": served.server.origin, "Cookie": served.cookie}
    with connect(
        f"ws://{served.host}{served.base}/feed?after=0", additional_headers=headers, proxy=None
    ) as feed:
        assert json.loads(feed.recv(timeout=5))["kind"] == "state"
        answer = served.ask("/api/leaving", "POST", {})
        assert answer.status == 200
        assert "max-age=0" in answer.headers["set-cookie"].lower()
        with pytest.raises(ConnectionClosed):
            _read_on(feed)

    assert refused(served.ask("/api/state"))
    assert served.ask("/api/state", token=other).status == 200


def _read_on(feed: ClientConnection) -> None:
    while True:
        feed.recv(timeout=5)


@pytest.mark.skipif(sys.platform != "linux" or os.getuid() != 0, reason="needs to become another user")
def test_another_user_with_the_token_is_refused(served: Served) -> None:
    address, port = served.server.bound
    script = (
        "import encodings.idna, http.client, os, sys; os.setuid(65534); connection = http.client.HTTPConnection(sys.argv[1], int(sys.argv[2]));"
        "connection.request('GET', sys.argv[3], headers={'Cookie': sys.argv[4]}); print(connection.getresponse().status)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, address, str(port), f"{served.base}/api/state", served.cookie],
        capture_output=True,
        text=True,
        timeout=20,
        check=True,
    )
    assert done.stdout.strip() == "403"


def test_answers_forbid_everything_foreign_and_inline(served: Served) -> None:
    for path in ("/", "/api/state", "/static/page.js"):
        headers = served.ask(path).headers
        policy = headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self'")
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"


def test_pages_hold_nothing_inline_and_nothing_from_elsewhere(reviewed: Served) -> None:
    for path in ("/review", f"/review/{reviewed.exam}", f"/review/{reviewed.exam}/print", "/start"):
        page = reviewed.ask(path).body.decode()
        assert "<style" not in page
        assert " style=" not in page
        assert " on" + "click=" not in page
        assert "<script>" not in page
        assert "http://" not in page.replace("http://www.w3.org/2000/svg", "")
        assert "https://" not in page


def test_every_link_stays_within_the_page(reviewed: Served) -> None:
    """Cookies are for paths with the page's base alone, so a link without it leads nowhere."""
    pages = [path for _, path in PATHS if not path.startswith(("/api", "/static"))]
    assert len(pages) > 5
    for path in (*pages, f"/review/{reviewed.exam}", f"/review/{reviewed.exam}/print"):
        page = reviewed.ask(path).body.decode()
        for link in re.findall(r'(?:href|src|action)="(/[^"]*)"', page):
            assert link.startswith(f"{reviewed.base}/"), (path, link)


def test_large_or_endless_bodies_are_refused(served: Served) -> None:
    assert served.ask("/api/lines", "POST", {"line": "x" * 70_000}).status == 413
    assert (
        served.ask("/api/lines", "POST", headers={"Transfer-Encoding": "chunked"}, body=b"0\r\n\r\n").status
        == 413
    )
    assert served.ask("/api/lines", "POST", headers={"Content-Length": "9" * 12}).status == 413
