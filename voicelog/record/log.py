"""The log of the record: a leaf for every event, in the order in which they were kept, as the tree of RFC 9162.

A leaf stands for the event's hash and for what the list of exams said with it, both hashed with a salt of the exam's
own: when an exam is erased its salt goes, and the leaves that stay tell nothing about it.
"""

import hmac
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, and_, func, insert, select, text

from voicelog.record.errors import RecordError
from voicelog.record.merkle import Frontier, Span, leaf_hash, node_hash, peak_ends, split
from voicelog.record.overviews import WORKED_OUT
from voicelog.record.tables import erasure as erasure_table
from voicelog.record.tables import event as event_table
from voicelog.record.tables import leaf as leaf_table
from voicelog.record.tables import salt as salt_table

_SALT_BYTES: Final = 32
_LOCK: Final = 0x766C6F68  # any number of our own: on a server one transaction at a time adds to the log
_AT_ONCE: Final = 1000  # rows written together


@dataclass(frozen=True, slots=True)
class Leaf:
    """A leaf to be added: which event it is, its hash, and what the list said, hashed (None in journals of before)."""

    exam: str
    number: int
    leaf: bytes
    listed: bytes | None = None


@dataclass(frozen=True, slots=True)
class Top:
    """The log after its last leaf: how many there are, the hash of all, and which event the last one is."""

    size: int
    root: bytes
    exam: str
    number: int


def new_salt() -> bytes:
    """A salt for an exam, by chance."""
    return secrets.token_bytes(_SALT_BYTES)


def event_leaf(salt: bytes, exam: str, number: int, hash_: str, line: Mapping[Any, Any] | None) -> Leaf:
    """The leaf of an event; `line` is the exam's row of the list with it."""
    said = None if line is None else listed(salt, line)
    return Leaf(exam, number, hashed(salt, hash_, said), said)


def hashed(salt: bytes, hash_: str, said: bytes | None) -> bytes:
    """The hash of a leaf. No salt: that of an erasure, which is no secret."""
    content = hash_.encode("utf-8", "surrogatepass") + (said or b"")
    return leaf_hash(hmac.digest(salt, content, "sha256"))


def listed(salt: bytes, line: Mapping[Any, Any]) -> bytes:
    """What a row of the list says of an exam's results, hashed."""
    content = "\n".join(str(line[name]) for name in WORKED_OUT)
    return hmac.digest(salt, content.encode("utf-8", "surrogatepass"), "sha256")


def salt_of(connection: Connection, exam: str) -> bytes | None:
    """The salt of an exam; None where it has none."""
    return connection.execute(select(salt_table.c.salt).where(salt_table.c.exam == exam)).scalar_one_or_none()


def keep_salt(connection: Connection, exam: str, salt: bytes) -> None:
    """Give an exam its salt."""
    connection.execute(insert(salt_table).values(exam=exam, salt=salt))


def add(connection: Connection, leaves: Iterable[Leaf]) -> Top:
    """Add leaves to the log, in a transaction that writes; at least one."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
    frontier = frontier_of(connection)
    rows: list[dict[str, Any]] = []
    last = None
    for last in leaves:
        tree = frontier.add(last.leaf)
        rows.append(
            {
                "position": frontier.size,
                "exam": last.exam,
                "number": last.number,
                "listed": last.listed,
                "leaf": last.leaf,
                "tree": None if tree == last.leaf else tree,
            }
        )
        if len(rows) == _AT_ONCE:
            connection.execute(insert(leaf_table), rows)
            rows = []
    if rows:
        connection.execute(insert(leaf_table), rows)
    if last is None:
        raise ValueError("there is no leaf to add")
    return Top(frontier.size, frontier.root, last.exam, last.number)


def frontier_of(connection: Connection) -> Frontier:
    """What the log can grow from: log n of its rows are read."""
    size = connection.execute(select(func.max(leaf_table.c.position))).scalar_one() or 0
    return Frontier(size, peaks(connection, size))


def peaks(connection: Connection, size: int) -> Sequence[bytes]:
    """The peaks of the log when it had that size."""
    ends = peak_ends(size)
    query = select(leaf_table.c.tree, leaf_table.c.leaf).where(leaf_table.c.position.in_(ends))
    found = connection.execute(query.order_by(leaf_table.c.position))
    return [tree or leaf for tree, leaf in found]


def top(connection: Connection) -> Top | None:
    """The log as it stands; None while it is empty."""
    last = connection.execute(
        select(leaf_table.c.position, leaf_table.c.exam, leaf_table.c.number)
        .order_by(leaf_table.c.position.desc())
        .limit(1)
    ).one_or_none()
    if last is None:
        return None
    frontier = Frontier(last.position, peaks(connection, last.position))
    return Top(last.position, frontier.root, last.exam, last.number)


def span(connection: Connection) -> Span:
    """The hashes of trees over the log's leaves, from the trees that are kept: log n reads for each."""

    def hash_of(start: int, end: int) -> bytes:
        count = end - start
        # The tree that is kept with a leaf is as long as the lowest bit of its position.
        if count == 1 or (count & (count - 1) == 0 and end & -end == count):
            query = select(leaf_table.c.leaf, leaf_table.c.tree).where(leaf_table.c.position == end)
            leaf, tree = connection.execute(query).one()
            return bytes(leaf if count == 1 else tree or leaf)
        middle = start + split(count)
        return node_hash(hash_of(start, middle), hash_of(middle, end))

    return hash_of


def time_of(connection: Connection, top: Top) -> str:
    """The time of the log's last event, or of the erasure that is its last leaf. Raises RecordError without either."""
    for table in (event_table, erasure_table):
        here = and_(table.c.exam == top.exam, table.c.number == top.number)
        at = connection.execute(select(table.c.at).where(here)).scalar_one_or_none()
        if at is not None:
            return str(at)
    raise RecordError(
        f"exam {top.exam} is in the log, and not in the record; voicelog record verify says more"
    )
