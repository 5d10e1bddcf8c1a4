"""Whether the log is whole, and whether heads that were kept outside the database are heads of it.

The tree is built anew from its leaves; that the leaves are those of the events is checked with the exams.
"""

import json
from collections.abc import Container, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, and_, exists, select

from voicelog.record import log
from voicelog.record.chain import FIRST_LINK, Row, link
from voicelog.record.faults import Fault
from voicelog.record.heads import Head
from voicelog.record.merkle import EMPTY_ROOT, Frontier
from voicelog.record.scanning import fetched
from voicelog.record.tables import erasure as erasure_table
from voicelog.record.tables import event as event_table
from voicelog.record.tables import leaf as leaf_table


@dataclass(slots=True)
class Grown:
    """The tree as its leaves make it: its size, its root, and what the root was at the sizes that were asked for."""

    size: int = 0
    root: bytes = EMPTY_ROOT
    roots: dict[int, bytes] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def grown(connection: Connection, sizes: Container[int]) -> Grown:
    """Build the tree anew, leaf by leaf."""
    found = Grown()
    frontier = Frontier()
    query = select(
        leaf_table.c.position, leaf_table.c.exam, leaf_table.c.number, leaf_table.c.leaf, leaf_table.c.tree
    )
    with closing(fetched(connection, query.order_by(leaf_table.c.position))) as leaves:
        _grow(found, frontier, leaves, sizes)
    found.size, found.root = frontier.size, frontier.root
    return found


def _grow(found: Grown, frontier: Frontier, leaves: Iterable[Any], sizes: Container[int]) -> None:
    """Leaf by leaf, up to the first that does not fit."""
    for position, exam, number, leaf, tree in leaves:
        if position != frontier.size + 1:
            found.faults.append(Fault(f"leaf {frontier.size + 1} of the log is gone", str(exam), number))
            break
        made = frontier.add(leaf)
        if made != (tree or leaf):
            found.faults.append(Fault("its hashes in the log do not fit those before", str(exam), number))
            break
        if position in sizes:
            found.roots[position] = frontier.root


def without_event(connection: Connection) -> Iterator[Fault]:
    """Leaves whose event is neither there nor of an exam that was erased."""
    same = and_(event_table.c.exam == leaf_table.c.exam, event_table.c.number == leaf_table.c.number)
    erased = erasure_table.c.exam == leaf_table.c.exam
    query = (
        select(leaf_table.c.exam, leaf_table.c.number)
        .where(~exists().where(same), ~exists().where(erased))
        .order_by(leaf_table.c.exam, leaf_table.c.number)
    )
    for exam, rows in groupby(connection.execute(query), key=lambda row: row[0]):
        numbers = [number for _, number in rows]
        yield Fault(f"{_events(numbers)} gone: the log has what the record does not", str(exam))


def erasures(connection: Connection) -> Iterator[Fault]:
    """Erasures that are not as they were written, or of which something is left."""
    for found in connection.execute(select(erasure_table).order_by(erasure_table.c.exam)):
        row = Row(*found)
        leaf = connection.execute(
            select(leaf_table.c.leaf).where(leaf_table.c.exam == row.exam, leaf_table.c.number == row.number)
        ).scalar_one_or_none()
        whole = row.hash == link(FIRST_LINK, row.exam, row.number, row.at, row.kind, row.body)
        if not whole or leaf != log.hashed(b"", row.hash, None):
            yield Fault("that it was erased is not as it was written", row.exam, row.number)
        if (
            connection.execute(select(event_table.c.number).where(event_table.c.exam == row.exam)).first()
            is not None
        ):
            yield Fault("it was erased, and events of it are there", row.exam)


def said_erased(connection: Connection) -> list[str]:
    """Which exams were erased, when, by whom and why."""
    found = []
    for exam, at, body in connection.execute(
        select(erasure_table.c.exam, erasure_table.c.at, erasure_table.c.body).order_by(erasure_table.c.exam)
    ):
        try:
            said = json.loads(body)
            found.append(f"exam {exam} was erased on {at[:10]} by {said['by']}: {said['reason']}")
        except (ValueError, LookupError, TypeError):
            found.append(f"exam {exam} was erased; what was said of it cannot be read")
    return found


def against_heads(grown: Grown, heads: Iterable[Head], where: str, known: Iterable[Head] = ()) -> list[Fault]:
    """What heads from outside, in order of their size, say that the log does not bear out; `where` they lie.

    Other heads that are `known` help to name what is missing.
    """
    kept, known = list(heads), sorted(known, key=lambda head: head.size)
    faults = [
        Fault(f"{where}: the head behind {head.last} is not signed by the key that it names")
        for head in kept
        if not head.is_signed
    ]
    signed = [head for head in kept if head.is_signed]
    gone = [head for head in signed if head.size > grown.size]
    wrong = [head for head in signed if head.size <= grown.size and grown.roots.get(head.size) != head.root]
    if wrong:
        fewer = f"; {gone[-1].size} events were kept, {grown.size} are there" if gone else ""
        faults.append(Fault(f"{where}: {_changed(grown, wrong[0], (*known, *signed))}{fewer}"))
    elif gone:
        count = gone[-1].size - grown.size
        between = {head.size: head for head in (*known, *gone) if grown.size < head.size <= gone[-1].size}
        what = _named([between[size] for size in sorted(between)])
        faults.append(Fault(f"{where}: gone from the end of the record: {what} ({count} in all)"))
    return faults


def _changed(grown: Grown, wrong: Head, known: Sequence[Head]) -> str:
    """Between which two heads the log stopped being what it was."""
    fits = {
        head.size: head
        for head in known
        if grown.roots.get(head.size) == head.root and head.size < wrong.size
    }
    best = max(fits, default=0)
    others = [
        head for head in known if head.size > best and grown.roots.get(head.size) not in (None, head.root)
    ]
    first = min((wrong, *others), key=lambda head: head.size)
    since = f"behind {fits[best].last}" if fits else "from the beginning"
    return f"what was kept {since} up to {first.last} was changed, taken out or put in another order"


def _named(heads: Sequence[Head]) -> str:
    """The events of heads, by exam."""
    by_exam = groupby(heads, key=lambda head: head.exam)
    return "; ".join(f"exam {exam}, {_events([head.number for head in each])}" for exam, each in by_exam)


def _events(numbers: Sequence[Any]) -> str:
    if len(numbers) == 1:
        return f"event {numbers[0]}"
    if list(numbers) == list(range(numbers[0], numbers[-1] + 1)):
        return f"events {numbers[0]} to {numbers[-1]}"
    return f"events {', '.join(map(str, numbers))}"
