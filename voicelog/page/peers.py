"""Which user of this machine a connection over loopback comes from, where the system tells (Linux).

A token that another user got hold of, in whatever way, is of no use to them.
"""

import ipaddress
import os
import socket
import struct
import sys
from pathlib import Path
from typing import Final

from voicelog.page.connections import Peer

_TABLES: Final = {4: Path("/proc/net/tcp"), 6: Path("/proc/net/tcp6")}
_UID_COLUMN: Final = 7
# Linux, sock_diag(7) and linux/inet_diag.h: a header, what is asked, and a socket by its ports, addresses, interface
# and cookie (here any). The answer begins alike, and has the user behind three more numbers.
_HEADER: Final = struct.Struct("=IHHII")
_ASKED: Final = struct.Struct("=BBBxI")
_SOCKET: Final = struct.Struct("!HH16s16s4x8s")
_ANSWERED: Final = struct.Struct("=BBxx")
_USER: Final = struct.Struct("=12xI")
_NETLINK_SOCK_DIAG: Final = 4
_BY_FAMILY: Final = 20
_REQUEST: Final = 1
_ANY_STATE: Final = 0xFFFF_FFFF
_ANY_COOKIE: Final = b"\xff" * 8
_LARGEST: Final = 4096
_ADMINISTRATOR: Final = 0  # reads everything anyway, and stands between where connections are passed on


def is_another_users(client: Peer, server: Peer) -> bool:
    """Whether a connection was made by another user of this machine; False where the system does not say."""
    user = _user(client, server)
    return user is not None and user not in (_ADMINISTRATOR, os.getuid())


def _user(client: Peer, server: Peer) -> int | None:
    address = ipaddress.ip_address(client[0])
    if not address.is_loopback:
        return None
    asked = _asked_for(client, server)
    return _looked_up(client, server) if asked is None else asked


def _asked_for(client: Peer, server: Peer) -> int | None:
    """The user by asking for this one connection; None where the system does not answer that, or finds none."""
    if sys.platform != "linux":
        return None
    ends = [ipaddress.ip_address(each[0]) for each in (client, server)]
    family = socket.AF_INET if ends[0].version == 4 else socket.AF_INET6
    places = (end.packed.ljust(16, b"\0") for end in ends)
    asked = _ASKED.pack(family, socket.IPPROTO_TCP, 0, _ANY_STATE)
    asked += _SOCKET.pack(client[1], server[1], *places, _ANY_COOKIE)
    header = _HEADER.pack(_HEADER.size + len(asked), _BY_FAMILY, _REQUEST, 0, 0)
    try:
        with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, _NETLINK_SOCK_DIAG) as system:
            system.send(header + asked)
            answer = system.recv(_LARGEST, socket.MSG_DONTWAIT)  # it is there when `send` returns
    except OSError:
        return None
    at = _HEADER.size + _ANSWERED.size
    if _HEADER.unpack_from(answer)[1] != _BY_FAMILY or len(answer) < at + _SOCKET.size + _USER.size:
        return None
    ports = _SOCKET.unpack_from(answer, at)[:2]
    if ports != (client[1], server[1]):  # who listens at that port, not who called
        return None
    return int(_USER.unpack_from(answer, at + _SOCKET.size)[0])


def _looked_up(client: Peer, server: Peer) -> int | None:
    """The user from the list of all connections, which is long where many came: those that ended stay for a minute."""
    try:
        connections = _TABLES[ipaddress.ip_address(client[0]).version].read_text(encoding="ascii")
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
