"""Connections to the page: how many are held, and how long a request may take to arrive.

Anybody on the machine can open connections and send nothing, without a token. Each one costs a descriptor, and the
record and the microphone need descriptors too. So the page holds a quarter of them at most. When one more comes, the
oldest that has not shown the token makes room for it: strangers push out strangers, and never whoever is let in.
Nor do they push out a request that is there and is not answered yet: where no other is left, the next one waits.

Whoever is let in waits behind all strangers that came before. So a connection is only read, which costs little, until
the head of its first request is there, and what answers requests is made for it then.
"""

import asyncio
import logging
import socket
import time
from typing import Any, Final

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

try:
    import resource
except ImportError:  # pragma: no cover  (Windows, which has no such limit)
    resource = None  # type: ignore[assignment]

ARRIVAL_S: Final = 10.0
"""A request has so long to arrive whole, from the connection or its first byte on; a TLS handshake as well."""
IDLE_S: Final = 5
"""A connection without a request under way is kept so long after an answer."""

_MOST: Final = 256
_SHARE: Final = 4
_BACKLOG: Final = 4096
_FULL_S: Final = 0.05  # until the next try when the machine has no descriptor left
_ROOM_S: Final = 0.01  # until the next try when all that are held wait for their answers
_TURNS: Final = 3
"""Turns of the loop in which what has come by now is read: it is ready, is read, and whoever asked is noted."""
_LOOK_S: Final = 1.0  # between two looks at which connections have ended by themselves
_LARGEST_HEAD: Final = 65_536  # bytes; a longer one is refused by what answers requests

Peer = tuple[str, int]


def most_connections() -> int:
    """How many connections are held: 256, or a quarter of the descriptors where that is less."""
    if resource is None:
        return _MOST
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return _MOST if soft == resource.RLIM_INFINITY else max(8, min(_MOST, soft // _SHARE))


class Connections:
    """The connections that are held, in the order in which they came. Used in the thread of the page alone."""

    def __init__(self, most: int | None = None) -> None:
        self.most = most or most_connections()
        self._held: dict[Peer, socket.socket] = {}
        self._known: set[Peer] = set()
        self._asking: set[Peer] = set()
        self._looked_s = -_LOOK_S

    def __len__(self) -> int:
        return len(self._held)

    def take(self, peer: Peer, connection: socket.socket) -> bool:
        """Hold one more, in place of a stranger's where it must be; False where all are known or wait for answers."""
        if self.is_full and time.monotonic() >= self._looked_s + _LOOK_S:
            self._forget_closed()
        if self.is_full:
            stayers = self._known | self._asking
            stranger = next((each for each in self._held if each not in stayers), None)
            if stranger is not None:
                _hang_up(self._forget(stranger))
            else:
                self._forget_closed()
        if self.is_full:
            return False
        self._known.discard(peer)
        self._asking.discard(peer)
        self._held.pop(peer, None)  # its port is used again: this one is the newest
        self._held[peer] = connection
        return True

    def know(self, peer: Peer, *, is_feed: bool = False) -> None:
        """This one has shown the token; a feed is served for as long as it likes."""
        if peer in self._held:
            self._known.add(peer)
        if is_feed:
            self._asking.discard(peer)

    def knows(self, peer: Peer) -> bool:
        """Whether it has."""
        return peer in self._known

    def ask(self, peer: Peer, *, asks: bool) -> None:
        """Whether its request is there whole and waits for the answer."""
        if asks and peer in self._held:
            self._asking.add(peer)
        else:
            self._asking.discard(peer)

    @property
    def is_full(self) -> bool:
        """Whether no more are held unless one goes."""
        return len(self._held) >= self.most

    @property
    def will_have_room(self) -> bool:
        """Whether one of those that are held will be free: its answer is under way."""
        return bool(self._asking)

    def _forget(self, peer: Peer) -> socket.socket:
        self._known.discard(peer)
        self._asking.discard(peer)
        return self._held.pop(peer)

    def _forget_closed(self) -> None:
        self._looked_s = time.monotonic()
        for peer in [peer for peer, connection in self._held.items() if connection.fileno() == -1]:
            self._forget(peer)


def _hang_up(connection: socket.socket) -> None:
    """End it from below: whoever has it, a handshake too, sees its end and closes it."""
    try:
        connection.shutdown(socket.SHUT_RDWR)
    except OSError:
        return  # it has ended by itself


class PatientServer(uvicorn.Server):
    """uvicorn's server, which takes connections one by one and only as many as may be held."""

    def __init__(self, config: uvicorn.Config, connections: Connections) -> None:
        super().__init__(config)
        logging.getLogger("uvicorn.error").setLevel(
            logging.ERROR
        )  # not a line for everything that is no HTTP
        self._connections = connections
        self._beginning: set[asyncio.Task[object]] = set()
        self._accepting: asyncio.Task[None] | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Listen on the one socket that is given."""
        (listening,) = sockets or []
        listening.setblocking(False)
        listening.listen(_BACKLOG)
        self.servers = []
        self._accepting = asyncio.create_task(self._accept(listening))
        self.started = True

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Take no more connections, then end those that there are."""
        for task in (self._accepting, *self._beginning):
            if task is not None:
                task.cancel()
        await super().shutdown(sockets)

    async def _accept(self, listening: socket.socket) -> None:
        loop = asyncio.get_running_loop()
        while True:
            try:
                connection, peer = await loop.sock_accept(listening)
            except OSError:  # no descriptor is left, or whoever called is gone again
                await asyncio.sleep(_FULL_S)
                continue
            try:
                has_room = await self._has_room(peer[:2], connection)
            except asyncio.CancelledError:  # the page ends while it waits
                connection.close()
                raise
            if has_room:
                self._begin(peer[:2], connection)
            else:
                connection.close()
            await asyncio.sleep(0)  # those that were hung up are closed before the next one comes

    async def _has_room(self, peer: Peer, connection: socket.socket) -> bool:
        until_s = time.monotonic() + ARRIVAL_S
        if self._connections.is_full:
            for _ in range(_TURNS):  # no stranger is pushed out whose request is there and was not read yet
                await asyncio.sleep(0)
        while not (taken := self._connections.take(peer, connection)):
            if not self._connections.will_have_room or time.monotonic() >= until_s:
                break
            await asyncio.sleep(_ROOM_S)
        return taken

    def _begin(self, peer: Peer, connection: socket.socket) -> None:
        task = asyncio.ensure_future(self._arrive(peer, connection))
        self._beginning.add(task)

        def after(task: asyncio.Task[object]) -> None:
            self._beginning.discard(task)
            if task.cancelled() or task.exception() is not None:  # it left, or nothing whole came of it
                self._connections.ask(peer, asks=False)
                connection.close()

        task.add_done_callback(after)

    async def _arrive(self, peer: Peer, connection: socket.socket) -> None:
        """Have its requests answered as soon as the first has begun; what comes under TLS is not read before."""
        loop, tls = asyncio.get_running_loop(), self.config.ssl
        until_s, head = loop.time() + ARRIVAL_S, b""
        if not tls:
            async with asyncio.timeout_at(until_s):
                head = await _head(connection)
            self._connections.ask(peer, asks=True)
        await loop.connect_accepted_socket(
            lambda: PatientProtocol(
                self.config, self.server_state, {}, connections=self._connections, head=head, until_s=until_s
            ),
            connection,
            ssl=tls,
            ssl_handshake_timeout=ARRIVAL_S if tls else None,
        )


async def _head(connection: socket.socket) -> bytes:
    """What came up to the end of a request's head, or so much that it is none. Raises OSError where it ends before."""
    loop, head = asyncio.get_running_loop(), b""
    while True:
        more = await loop.sock_recv(connection, _LARGEST_HEAD)
        head += more
        if not more:
            raise ConnectionResetError
        if not head[:1].isalpha() or b"\r\n\r\n" in head or len(head) >= _LARGEST_HEAD:
            return head


class PatientProtocol(H11Protocol):
    """HTTP of which every request must arrive whole in time, head and body.

    `head` came already, and the request that it belongs to must be there at `until_s` of the loop's clock.
    """

    def __init__(
        self, *arguments: Any, connections: Connections, head: bytes, until_s: float, **named: Any
    ) -> None:
        super().__init__(*arguments, **named)
        self._held_by, self._head, self._first_until_s = connections, head, until_s
        self._until: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Its first request is waited for."""
        super().connection_made(transport)
        self._until = self.loop.call_at(self._first_until_s, self.transport.abort)
        if self._head:
            self.data_received(self._head)

    def data_received(self, data: bytes) -> None:
        """Take what came, and wait for the rest."""
        super().data_received(data)
        self._wait()

    def on_response_complete(self) -> None:
        """It is answered, and asks no more, or by its next request that is there already."""
        super().on_response_complete()
        self._ask(asks=not self._is_coming())

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        self._stop_waiting()
        self._ask(asks=False)
        super().connection_lost(exc)

    def _wait(self) -> None:
        """Have a request come within the time that it has left; none is waited for while one is answered."""
        # It may have left for a feed, which the guard will know or refuse.
        has_left = self.transport.get_protocol() is not self
        asks = has_left or not self._is_coming()
        self._ask(asks=asks)
        if asks or self.transport.is_closing():
            self._stop_waiting()
        elif self._until is None:
            self._until = self.loop.call_later(ARRIVAL_S, self.transport.abort)

    def _is_coming(self) -> bool:
        cycle = self.cycle
        return cycle is None or cycle.response_complete or cycle.more_body

    def _ask(self, *, asks: bool) -> None:
        if self.client is not None:
            self._held_by.ask(self.client, asks=asks)

    def _stop_waiting(self) -> None:
        if self._until is not None:
            self._until.cancel()
            self._until = None
