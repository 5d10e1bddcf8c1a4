"""Which user of this machine a connection over loopback comes from, where the system tells (Linux).

A token that another user got hold of, in whatever way, is of no use to them.
"""

import ipaddress
import os
import sys
from pathlib import Path
from typing import Final

from voicelog.page.connections import Peer

_TABLES: Final = {4: Path("/proc/net/tcp"), 6: Path("/proc/net/tcp6")}
_UID_COLUMN: Final = 7
_ADMINISTRATOR: Final = 0  # reads everything anyway, and stands between where connections are passed on


def is_another_users(client: Peer, server: Peer) -> bool:
    """Whether a connection was made by another user of this machine; False where the system does not say."""
    user = _user(client, server)
    return user is not None and user not in (_ADMINISTRATOR, os.getuid())


def _user(client: Peer, server: Peer) -> int | None:
    address = ipaddress.ip_address(client[0])
    if not address.is_loopback:
        return None
    try:
        connections = _TABLES[address.version].read_text(encoding="ascii")
    except OSError:
        return None
    at = connections.find(f" {_written(client)} {_written(server)} ")
    if at < 0:
        return None
    row = connections[connections.rfind("\n", 0, at) + 1 :].split(maxsplit=_UID_COLUMN + 1)
    return int(row[_UID_COLUMN])


def _written(peer: Peer) -> str:
    """As the kernel writes it: words of four bytes in the machine's own order, then the port."""
    address = ipaddress.ip_address(peer[0])
    packed = address.packed
    words = [int.from_bytes(packed[at : at + 4], sys.byteorder) for at in range(0, len(packed), 4)]
    return "".join(f"{word:08X}" for word in words) + f":{peer[1]:04X}"
