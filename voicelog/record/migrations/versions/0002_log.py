"""The log: a leaf for every event. Events that are there get theirs exam by exam, with the hashes that they have."""

from collections.abc import Iterator
from itertools import groupby

import sqlalchemy as sa
from alembic import op

from voicelog.record import guards, log
from voicelog.record.log import Leaf
from voicelog.record.tables import event, exam

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables, take up the events, and make the guards anew, which know of exams that were erased."""
    _tables()
    connection = op.get_bind()
    first = sa.select(event.c.number).limit(1)
    if connection.execute(first).first() is not None:
        log.add(connection, _taken_up(connection))
    guards.renew(connection)


def _tables() -> None:
    op.create_table(
        "leaf",
        sa.Column("position", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("exam", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("listed", sa.LargeBinary),
        sa.Column("leaf", sa.LargeBinary, nullable=False),
        sa.Column("tree", sa.LargeBinary),
        sa.UniqueConstraint("exam", "number", name="leaf_event"),
    )
    op.create_table(
        "salt",
        sa.Column("exam", sa.Text, primary_key=True),
        sa.Column("salt", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "erasure",
        sa.Column("exam", sa.Text, primary_key=True),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
    )


def _taken_up(connection: sa.Connection) -> Iterator[Leaf]:
    """What the list says goes into the last leaf of each exam: what it said before nobody knows."""
    query = sa.select(event.c.exam, event.c.number, event.c.hash).order_by(event.c.exam, event.c.number)
    found = connection.execute(query.execution_options(yield_per=1000))
    for name, rows in groupby(found, key=lambda row: row[0]):
        salt = log.new_salt()
        log.keep_salt(connection, name, salt)
        line = connection.execute(sa.select(exam).where(exam.c.id == name)).mappings().one_or_none()
        events = [(number, hash_) for _, number, hash_ in rows]
        for number, hash_ in events[:-1]:
            yield log.event_leaf(salt, name, number, hash_, None)
        yield log.event_leaf(salt, name, *events[-1], line)
