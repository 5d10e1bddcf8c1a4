"""Before every request: is it for this page, does it come from this page, and does it carry the token?

A name that was made to point here (DNS rebinding) is refused by Host; a foreign page's request or WebSocket by Origin
and Sec-Fetch-Site; anybody else on the machine by the token, and by their user where the system tells it. Cookies do
not know of ports, but of paths: the token's is for paths that begin with what only those who are let in know, so that
another server on this machine is not sent it. What passes is answered under a strict policy: nothing
from elsewhere is loaded, nothing inline is run, and nobody may frame the page.
"""

from typing import Any, Final
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from voicelog.page.access import Access
from voicelog.page.connections import Connections
from voicelog.page.peers import is_another_users

BASE: Final = "voicelog.base"
"""In a request's scope: what goes before every path of the page; empty where nobody is let in yet."""
SESSION: Final = "voicelog.session"
"""In a request's scope: the token that it came with."""

_LARGEST_BODY: Final = 65_536
_READING: Final = ("GET", "HEAD", "OPTIONS")
_OPEN: Final = ("/enter", "/static/page.css", "/static/page.js", "/static/icon.svg")
"""What a passphrase can be entered with, before there is a token."""

_HEADERS: Final = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(), camera=(), geolocation=()",
    "cache-control": "no-store",
}


class Guard:
    """Wraps the application; see the module's words."""

    def __init__(self, app: ASGIApp, access: Access, connections: Connections) -> None:
        self._app, self._access, self._connections = app, access, connections

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        answer = self._answer(scope, headers)
        if isinstance(answer, dict):
            await self._app(answer, receive, self._under_policy(headers, send, answer[BASE]))
        elif scope["type"] == "websocket":
            # Closed before it was accepted: the server answers the handshake with 403.
            await send({"type": "websocket.close", "code": 1008, "reason": "refused"})
        else:
            if _is_small(headers):
                await _read_to_its_end(receive)
            await answer(scope, receive, self._under_policy(headers, send))

    def _answer(self, scope: Scope, headers: Headers) -> "Response | dict[str, Any]":
        """The refusal, the way in, or, for a request that may pass, its scope within the page."""
        method, access = scope.get("method", "GET"), self._access
        if headers.getlist("host") not in [[host] for host in access.hosts]:
            return _refused("this page is served under another address")
        if self._is_foreign(headers, needed=scope["type"] == "websocket" or method not in _READING):
            return _refused("the request comes from another page")
        if method not in _READING and not _is_small(headers):
            return PlainTextResponse("too large, or of unknown length", status_code=413)
        if not self._connections.knows(scope["client"]) and is_another_users(
            scope["client"], scope["server"]
        ):
            return _refused("this page is another user's")
        inner = access.inside(scope["path"])
        if scope["type"] == "http" and method == "GET" and inner is None:
            key = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("launch", [None])[0]
            if key is not None:
                return self._launch(key, scope["path"])
        token = _cookie(headers, access.cookie)
        if inner is not None and token is not None and access.sessions.has(token):
            self._connections.know(scope["client"], is_feed=scope["type"] == "websocket")
            raw = scope.get("raw_path", b"").removeprefix(access.base.encode())
            return dict(scope) | {"path": inner, "raw_path": raw, BASE: access.base, SESSION: token}
        if access.passphrase is not None and scope["path"] in _OPEN:
            return dict(scope) | {BASE: ""}
        return self._no_token(method, scope["path"] if inner is None else inner)

    def _launch(self, key: str, path: str) -> Response:
        token = self._access.sessions.launch(key)
        if token is None:
            return _refused("that address was used before, and each is good once")
        return let_in(RedirectResponse(self._access.base + path, status_code=303), self._access, token)

    def _is_foreign(self, headers: Headers, *, needed: bool) -> bool:
        origins = headers.getlist("origin")
        if origins:
            return len(origins) > 1 or origins[0] not in self._access.origins
        if needed:
            return True
        is_link = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
        return headers.get("sec-fetch-site", "none") not in ("same-origin", "none") and not is_link

    def _no_token(self, method: str, path: str) -> Response:
        if self._access.passphrase is not None and method == "GET" and path == "/":
            return RedirectResponse("/enter", status_code=303)
        return _refused("open the page by the whole address that voicelog printed when it started")

    def _under_policy(self, headers: Headers, send: Send, base: str = "") -> Send:
        """`base` goes before where the answer leads to."""
        socket = f"{'wss' if self._access.scheme == 'https' else 'ws'}://{headers.get('host', '')}"
        policy = (
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; "
            f"connect-src 'self' {socket}; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        )

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                answer["content-security-policy"] = policy
                if answer.get("location", "").startswith("/"):
                    answer["location"] = base + answer["location"]
                for name, value in _HEADERS.items():
                    answer.setdefault(name, value)
            await send(message)

        return with_headers


def let_in(response: Response, access: Access, token: str) -> Response:
    """The same response with the token's cookie, which scripts cannot read and other sites' links do not send."""
    response.set_cookie(
        access.cookie,
        token,
        path=access.base,
        httponly=True,
        samesite="strict",
        secure=access.scheme == "https",
    )
    return response


def _refused(why: str) -> Response:
    return PlainTextResponse(f"refused: {why}\n", status_code=403)


async def _read_to_its_end(receive: Receive) -> None:
    """Take in the body of a refused request: a connection closed on an unread one may lose the answer on its way."""
    more = True
    while more:
        message = await receive()
        more = message["type"] == "http.request" and message.get("more_body", False)


def _is_small(headers: Headers) -> bool:
    if "transfer-encoding" in headers:
        return False
    length = headers.get("content-length", "0")
    return length.isascii() and length.isdigit() and len(length) < 10 and int(length) <= _LARGEST_BODY


def _cookie(headers: Headers, name: str) -> str | None:
    return cookie_parser(headers.get("cookie", "")).get(name)
