"""Passphrases that were wrong: each address waits for its own, so that a stranger's tries keep nobody else out."""

import ipaddress
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

_FIRST_S: Final = 1.0
_LONGEST_S: Final = 64.0
_MOST: Final = 4096
_FORGOTTEN_S: Final = 600.0


@dataclass(frozen=True, slots=True)
class _Waiting:
    until_s: float
    next_s: float


class Tries:
    """How long each address has to wait: a second after the first wrong one, twice as long after each further."""

    def __init__(self, now_s: Callable[[], float] = time.monotonic) -> None:
        self._now_s = now_s
        self._lock = threading.Lock()
        self._waiting: dict[str, _Waiting] = {}

    def begin(self, address: str) -> float:
        """Seconds that this address has to wait; 0.0: it may try now, once, and waits unless `was_right` comes."""
        network, now_s = _network(address), self._now_s()
        with self._lock:
            before = self._waiting.pop(network, None)
            if before is not None and before.until_s > now_s:
                self._waiting[network] = before
                return before.until_s - now_s
            known = before is not None and before.until_s + _FORGOTTEN_S > now_s
            wait_s = before.next_s if before is not None and known else _FIRST_S
            self._waiting[network] = _Waiting(now_s + wait_s, min(2 * wait_s, _LONGEST_S))
            while len(self._waiting) > _MOST:
                del self._waiting[next(iter(self._waiting))]
            return 0.0

    def was_right(self, address: str) -> None:
        """Nothing is held against this address any more."""
        with self._lock:
            self._waiting.pop(_network(address), None)


def _network(address: str) -> str:
    """An IPv4 address alone; of IPv6 the /64, within which anybody may take any address."""
    found = ipaddress.ip_address(address)
    return address if found.version == 4 else str(ipaddress.ip_network((found, 64), strict=False))
