"""Serves the page in a thread of its own, beside whatever the program does."""

import asyncio
import socket
import sys
import threading
import time
import webbrowser
from typing import Final

import uvicorn

from voicelog.page.access import Access, Binding, PageError
from voicelog.page.app import page_app
from voicelog.page.connections import IDLE_S, Connections, PatientServer
from voicelog.page.context import Page
from voicelog.page.way_in import WayIn
from voicelog.settings import Settings

_START_S: Final = 20.0
_STOP_S: Final = 5.0


class PageServer:
    """Serves one page until it is closed; `with PageServer(binding) as server` does both.

    Raises PageError for a port that is taken or an address that is not this machine's.
    """

    def __init__(self, binding: Binding, *, settings: Settings | None = None) -> None:
        self._socket = _bound(binding)
        port = self._socket.getsockname()[1]
        self.page = Page(Access.at(binding, port), settings=settings)
        self._host = f"[{binding.host}]" if ":" in binding.host else binding.host
        self._address, self._port, self._path = binding.host, port, "/"
        self._way_in = WayIn(port)
        self.page.access.sessions.on_new_key = self._renew_way_in
        connections = Connections()
        self._server = PatientServer(
            uvicorn.Config(
                page_app(self.page, connections),
                log_config=None,
                access_log=False,
                lifespan="off",
                server_header=False,
                loop="asyncio",
                ws="websockets-sansio",
                ws_max_size=4096,
                ws_per_message_deflate=False,  # the way is short, and every watcher would cost its own packing
                timeout_keep_alive=IDLE_S,
                timeout_graceful_shutdown=1,
                ssl_certfile=binding.certificate,
                ssl_keyfile=binding.key,
            ),
            connections,
        )
        self._thread = threading.Thread(target=self._serve, name="page", daemon=True)

    def __enter__(self) -> "PageServer":
        self._thread.start()
        give_up_s = time.monotonic() + _START_S
        while not self._server.started:
            if not self._thread.is_alive() or time.monotonic() > give_up_s:
                self._socket.close()
                raise PageError(f"the page could not be served within {_START_S:g} s")
            time.sleep(0.01)
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def bound(self) -> tuple[str, int]:
        """Address and port."""
        return self._address, self._port

    @property
    def origin(self) -> str:
        """Scheme, address and port."""
        return f"{self.page.access.scheme}://{self._host}:{self._port}"

    def address(self, path: str = "/") -> str:
        """The whole address of a page; whoever opens it first is let in, and it is good for nobody after that."""
        return f"{self.origin}{path}?launch={self.page.access.sessions.key}"

    def open(self, path: str = "/", *, browser: bool = True) -> None:
        """Print the address of a page, and open it in the browser.

        The browser is given a file that leads there: what stands in a command line, all users of the machine can read.
        """
        print(f"page: {self.address(path)}", file=sys.stderr, flush=True)
        self._path = path
        try:
            self._way_in.write(self.address(path))
        except OSError as error:
            print(f"no browser is opened: {error}", file=sys.stderr)
            return
        print(f"that is good once; for another browser: {self._way_in.uri}", file=sys.stderr, flush=True)
        if browser:
            webbrowser.open(self._way_in.uri)

    def _renew_way_in(self) -> None:
        """The key in the file was used: it leads in again by the next one."""
        try:
            self._way_in.rewrite(self.address(self._path))
        except OSError:
            return  # the key that it has is refused, with the reason

    def close(self) -> None:
        """Serve no more."""
        if self.page.desk is not None:
            self.page.desk.end()
        self._server.should_exit = True
        if self._thread.is_alive():
            self._thread.join(_STOP_S)
        self._socket.close()
        self._way_in.remove()
        self.page.close()

    def _serve(self) -> None:
        asyncio.run(self._server.serve(sockets=[self._socket]))


def _bound(binding: Binding) -> socket.socket:
    family = socket.AF_INET6 if ":" in binding.host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    # A port that was just left may be taken again, one that is in use never (on Windows the option would allow it).
    if sys.platform != "win32":
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((binding.host, binding.port))
    except OSError as error:
        bound.close()
        what = f"port {binding.port}" if binding.port else "the address"
        raise PageError(f"{what} of {binding.host} cannot be used: {error.strerror}") from None
    return bound
