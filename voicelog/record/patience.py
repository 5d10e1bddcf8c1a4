"""How long a database server is waited for: one that is frozen, or a cable that is cut, answers nothing at all."""

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, Final

from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import DisconnectionError
from sqlalchemy.pool import ConnectionPoolEntry

LONGEST_S: Final = 4.8
"""From asking for a connection to the end of an entry's transaction; after that the entry is not kept."""
CONNECT_S: Final = 3
_PING_S: Final = 1.5
_LEAST_S: Final = 0.5


def ping_at_checkout(engine: Engine) -> None:
    """Try a connection that was left lying before it is used; one that does not answer is replaced."""
    event.listen(engine, "checkout", _ping)


@contextmanager
def ended_in_time(connection: Connection, since: float) -> Iterator[None]:
    """Cut a server's connection when what is done here takes too long; `since` is of time.monotonic()."""
    left_s = max(_LEAST_S, LONGEST_S - (time.monotonic() - since))
    with _cut_after(connection.connection.driver_connection, left_s):
        yield


def _ping(connection: Any, _: ConnectionPoolEntry, __: object) -> None:
    with _cut_after(connection, _PING_S):
        try:
            connection.execute("SELECT 1")
            connection.rollback()
        except Exception:
            raise DisconnectionError from None


@contextmanager
def _cut_after(connection: Any, seconds: float) -> Iterator[None]:
    cutting = threading.Timer(seconds, _cut, (connection,))
    cutting.daemon = True
    cutting.start()
    try:
        yield
    finally:
        cutting.cancel()


def _cut(connection: Any) -> None:
    """The thread that waits for an answer then reads the end of the connection."""
    with suppress(Exception), socket.socket(fileno=os.dup(connection.fileno())) as raw:
        raw.shutdown(socket.SHUT_RDWR)
