"""Whoever opens connections and sends nothing keeps nobody else out, and takes no descriptors from the record."""

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.page.served import Served
from voicelog.page import connections
from voicelog.page.connections import Connections, most_connections

COUNT = 1100
LINES = ("right eye", "streak ninety with at plus one", "scratch that", "left eye")
ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="counts descriptors in /proc")


@contextmanager
def strangers(served: Served, count: int) -> Iterator[None]:
    address, port = served.server.bound
    command = [sys.executable, "-m", "tests.page.strangers", address, str(port), str(count)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as crowd:
        assert crowd.stdout is not None
        assert crowd.stdout.readline() == "ready\n"
        yield
        crowd.communicate("", timeout=20)


def descriptors() -> int:
    return len(os.listdir("/proc/self/fd"))


def work_for(served: Served, seconds: float) -> tuple[int, float, int]:
    """Enter by the page and read it, each time by a new connection; entries, the longest answer, most descriptors."""
    entered, longest_s, most = 0, 0.0, 0
    end_s = time.monotonic() + seconds
    while time.monotonic() < end_s:
        begun_s = time.monotonic()
        assert served.ask("/api/lines", "POST", {"line": LINES[entered % len(LINES)]}).status == 202
        assert served.ask("/api/state").status == 200
        assert served.ask("/").status == 200
        longest_s = max(longest_s, time.monotonic() - begun_s)
        entered += 1
        most = max(most, descriptors())
        time.sleep(0.1)
    served.waiting.join()
    return entered, longest_s, most


def check(served: Served, seconds: float, limit_s: float) -> None:
    served.say(*LINES, source="typed")  # loads the grammar
    first, _, _ = work_for(served, 0.01)
    before = descriptors()
    with strangers(served, COUNT):
        entered, longest_s, most = work_for(served, seconds)
    print(f"{entered} entries, each with three answers within {longest_s:.2f} s, {most - before} descriptors")

    assert len(served.session.state.events) == 1 + len(LINES) + first + entered
    assert longest_s < limit_s
    assert most - before <= most_connections() + 20


def test_1100_half_open_connections(served: Served) -> None:
    """Each answer comes, however busy the machine is otherwise; how fast, the sweep measures."""
    check(served, 3.0, 20.0)


@pytest.mark.sweep
def test_1100_half_open_connections_for_two_minutes(served: Served) -> None:
    check(served, 120.0, 3.0)


def test_who_is_let_in_is_not_pushed_out(served: Served) -> None:
    address, port = served.server.bound
    headers = {"Cookie": served.cookie}
    known = http.client.HTTPConnection(address, port, timeout=10)
    try:
        for _ in range(2):
            known.request("GET", f"{served.base}/api/state", headers=headers)
            answer = known.getresponse()
            answer.read()
            assert answer.status == 200
            own = known.sock
            with strangers(served, most_connections() + 50):
                pass
            assert known.sock is own
    finally:
        known.close()


@pytest.mark.parametrize(
    "begun", [b"", b"GET / HTTP/1.1\r\nX: ", b"POST / HTTP/1.1\r\nContent-Length: 9\r\n\r\n"]
)
def test_a_request_that_does_not_arrive_is_given_up(
    served: Served, begun: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "ARRIVAL_S", 0.3)
    with socket.create_connection(served.server.bound, timeout=10) as connection:
        connection.sendall(begun)
        begun_s = time.monotonic()
        ended = b""
        try:
            while more := connection.recv(4096):
                ended += more
        except ConnectionResetError:
            pass
        assert time.monotonic() - begun_s < 5.0
    assert ended == b"" or ended.startswith(b"HTTP/1.1 400")


def test_nothing_is_made_for_a_request_before_its_head_is_there(served: Served) -> None:
    """Then it is answered, in however many pieces it came; what is no HTTP is refused at once."""
    made = served.server._server.server_state.connections
    request = (
        f"GET {served.base}/api/state HTTP/1.1\r\nHost: {served.host}\r\nCookie: {served.cookie}\r\n\r\n"
    )
    with socket.create_connection(served.server.bound, timeout=10) as connection:
        for part in (request[:3], request[3:50], request[50:-2]):
            connection.sendall(part.encode())
            time.sleep(0.05)
            assert not made
        connection.sendall(request[-2:].encode())
        assert connection.recv(4096).startswith(b"HTTP/1.1 200")
        assert len(made) == 1
    with socket.create_connection(served.server.bound, timeout=10) as connection:
        connection.sendall(b"\x16\x03\x01\x02\x00\x01\x00")
        assert connection.recv(4096).startswith(b"HTTP/1.1 400")


def test_a_crowd_that_asks_all_at_once_is_answered(served: Served) -> None:
    """As when the machine stood still for a while: more requests than are held, and none was answered yet.

    Each asks as soon as it is there: one that waits longer is a stranger, and may be pushed out.
    """
    request = (
        f"GET {served.base}/api/state HTTP/1.1\r\nHost: {served.host}\r\nCookie: {served.cookie}\r\n"
        "Connection: close\r\n\r\n"
    ).encode()
    crowd: list[socket.socket] = []
    try:
        for _ in range(most_connections() * 2):
            crowd.append(socket.create_connection(served.server.bound, timeout=20))
            crowd[-1].sendall(request)
        answers = [connection.recv(12) for connection in crowd]
    finally:
        for connection in crowd:
            connection.close()
    assert set(answers) == {b"HTTP/1.1 200"}


def test_a_full_house_takes_nobody_who_would_push_out_those_let_in() -> None:
    pairs = [socket.socketpair() for _ in range(5)]
    held = Connections(most=2)
    try:
        assert held.take(("a", 1), pairs[0][0])
        assert held.take(("b", 1), pairs[1][0])
        held.know(("a", 1))
        assert held.take(("c", 1), pairs[2][0]), "in place of b, the oldest stranger"
        assert pairs[1][1].recv(1) == b""
        held.know(("c", 1))
        assert not held.take(("d", 1), pairs[3][0])
        pairs[0][0].close()
        assert held.take(("d", 1), pairs[3][0]), "one of those let in has gone"
        assert not held.knows(("d", 1))
        held.ask(("d", 1), asks=True)
        assert held.will_have_room
        assert not held.take(("e", 1), pairs[4][0]), "d waits for its answer"
        held.ask(("d", 1), asks=False)
        assert held.take(("e", 1), pairs[4][0])
    finally:
        for pair in pairs:
            for end in pair:
                end.close()
