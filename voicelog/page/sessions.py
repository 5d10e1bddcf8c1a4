"""Who is let in: a token for every browser, and a key that lets the next one in, once."""

import hmac
import secrets
import threading
from collections.abc import Callable
from typing import Final

_MOST: Final = 64


class Sessions:
    """The browsers of one start of the page. `on_new_key` is called when a launch key was used and there is another."""

    def __init__(self) -> None:
        self.on_new_key: Callable[[], None] = lambda: None
        self._lock = threading.Lock()
        self._key = _secret()
        self._tokens: list[str] = []

    @property
    def key(self) -> str:
        """The launch key: whoever brings it first is let in, and there is another one then."""
        with self._lock:
            return self._key

    def begin(self) -> str:
        """Let one in; its token. The oldest leaves when there are very many."""
        token = _secret()
        with self._lock:
            self._tokens = [*self._tokens, token][-_MOST:]
        return token

    def launch(self, given: str) -> str | None:
        """Let in whoever brings the launch key; its token, or None for a key that is wrong or was used."""
        with self._lock:
            if not _same(given, self._key):
                return None
            self._key = _secret()
        self.on_new_key()
        return self.begin()

    def has(self, given: str | None) -> bool:
        """Whether this is the token of one that is let in."""
        with self._lock:
            tokens = tuple(self._tokens)
        return given is not None and any(_same(given, token) for token in tokens)

    def end(self, token: str) -> None:
        """One leaves: its token lets nobody in any more."""
        with self._lock:
            self._tokens = [each for each in self._tokens if not _same(each, token)]


def _secret() -> str:
    return secrets.token_urlsafe(32)


def _same(given: str, secret: str) -> bool:
    """Takes the same time whatever is given."""
    return hmac.compare_digest(given.encode(), secret.encode())
