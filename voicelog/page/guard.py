"""Before every request: is it for this page, does it come from this page, and does it carry the token?

A name that was made to point here (DNS rebinding) is refused by Host; a foreign page's request or WebSocket by Origin
and Sec-Fetch-Site; anybody else on the machine by the token. What passes is answered under a strict policy: nothing
from elsewhere is loaded, nothing inline is run, and nobody may frame the page.
"""

from typing import Final
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from voicelog.page.access import Access
from voicelog.page.connections import Connections

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
        if answer is None:
            await self._app(scope, receive, self._under_policy(headers, send))
        elif scope["type"] == "websocket":
            # Closed before it was accepted: the server answers the handshake with 403.
            await send({"type": "websocket.close", "code": 1008, "reason": "refused"})
        else:
            if _is_small(headers):
                await _read_to_its_end(receive)
            await answer(scope, receive, self._under_policy(headers, send))

    def _answer(self, scope: Scope, headers: Headers) -> Response | None:
        """The refusal, or the way in; None: the request may pass."""
        method = scope.get("method", "GET")
        if headers.getlist("host") not in [[host] for host in self._access.hosts]:
            return _refused("this page is served under another address")
        if self._is_foreign(headers, needed=scope["type"] == "websocket" or method not in _READING):
            return _refused("the request comes from another page")
        if method not in _READING and not _is_small(headers):
            return PlainTextResponse("too large, or of unknown length", status_code=413)
        if scope["type"] == "http" and method == "GET":
            given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [None])[0]
            if self._access.is_token(given):
                return let_in(RedirectResponse(scope["path"], status_code=303), self._access)
        if self._access.is_token(_cookie(headers, self._access.cookie)):
            self._connections.know(scope["client"])
            return None
        if self._access.passphrase is not None and scope["path"] in _OPEN:
            return None
        return self._no_token(scope, method)

    def _is_foreign(self, headers: Headers, *, needed: bool) -> bool:
        origins = headers.getlist("origin")
        if origins:
            return len(origins) > 1 or origins[0] not in self._access.origins
        if needed:
            return True
        is_link = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
        return headers.get("sec-fetch-site", "none") not in ("same-origin", "none") and not is_link

    def _no_token(self, scope: Scope, method: str) -> Response:
        if self._access.passphrase is not None and method == "GET" and scope["path"] == "/":
            return RedirectResponse("/enter", status_code=303)
        return _refused("open the page by the whole address that voicelog printed when it started")

    def _under_policy(self, headers: Headers, send: Send) -> Send:
        socket = f"{'wss' if self._access.scheme == 'https' else 'ws'}://{headers.get('host', '')}"
        policy = (
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; "
            f"connect-src 'self' {socket}; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        )

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                answer["content-security-policy"] = policy
                for name, value in _HEADERS.items():
                    answer.setdefault(name, value)
            await send(message)

        return with_headers


def let_in(response: Response, access: Access) -> Response:
    """The same response with the token's cookie, which scripts cannot read and other sites' links do not send."""
    response.set_cookie(
        access.cookie,
        access.token,
        path="/",
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
