"""Whose connection it is: asked of the system for the one connection, or looked up in the list of all."""

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from voicelog.page import peers
from voicelog.page.connections import Peer


@pytest.fixture(name="ends", params=["127.0.0.1", "::1"])
def _ends(request: pytest.FixtureRequest) -> Iterator[tuple[Peer, Peer]]:
    """The addresses of a client and of the server that it called."""
    try:
        listening = socket.create_server(
            (request.param, 0), family=socket.AF_INET6 if ":" in request.param else socket.AF_INET
        )
    except OSError:
        pytest.skip(f"this machine has no {request.param}")
    with listening, socket.create_connection(listening.getsockname()[:2]) as client:
        yield client.getsockname()[:2], client.getpeername()[:2]


def needs_an_answer(ends: tuple[Peer, Peer]) -> None:
    if peers._asked_for(*ends) is None:
        pytest.skip("this system is not to be asked for one connection")


def test_both_ways_name_who_called(ends: tuple[Peer, Peer]) -> None:
    if not all(table.exists() for table in peers._TABLES.values()):
        pytest.skip("this system does not list its connections")
    assert peers._looked_up(*ends) == os.getuid()
    needs_an_answer(ends)
    assert peers._asked_for(*ends) == os.getuid()


def test_who_called_is_told_without_the_list(
    ends: tuple[Peer, Peer], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It has a line for each connection of the last minute, and took four fifths of the time of a page that many ask."""
    needs_an_answer(ends)
    monkeypatch.setattr(peers, "_TABLES", dict.fromkeys(peers._TABLES, tmp_path / "none"))

    assert peers._user(*ends) == os.getuid()


def test_who_listens_at_a_port_is_not_who_called_from_it(ends: tuple[Peer, Peer]) -> None:
    client, server = ends

    assert peers._asked_for(server, (client[0], client[1] ^ 1)) is None


@pytest.mark.parametrize("ways", [(7, None), (None, 8)])
def test_the_list_is_read_where_the_system_does_not_answer(
    ends: tuple[Peer, Peer], monkeypatch: pytest.MonkeyPatch, ways: tuple[int | None, int | None]
) -> None:
    asked, listed = ways
    monkeypatch.setattr(peers, "_asked_for", lambda *_: asked)
    monkeypatch.setattr(peers, "_looked_up", lambda *_: listed)

    assert peers._user(*ends) == (listed if asked is None else asked)
    assert peers.is_another_users(*ends) == (os.getuid() not in (asked, listed))
