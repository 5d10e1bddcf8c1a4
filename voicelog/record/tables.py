"""The tables, as the queries use them; the migrations make them (a test compares the two).

`event` is the record: rows are only ever added. `exam` holds one row an exam, worked out from its events in the same
transaction, so that lists need not fold anything; `voicelog record verify` works it out again and compares.

`leaf` is the log: one row an event of any exam, in the order in which they were kept, and what RFC 9162's tree needs to
grow. A leaf is hashed with the `salt` of its exam, so that it says nothing once that is gone. `erasure` says of an exam
that was erased who did so and why; it has a leaf as events have.
"""

from typing import Final

from sqlalchemy import (
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)

metadata: Final = MetaData()

exam: Final = Table(
    "exam",
    metadata,
    Column("id", Text, primary_key=True),
    Column("reference", Text, nullable=False),
    Column("sought", Text, nullable=False),
    Column("started_at", Text, nullable=False),
    Column("changed_at", Text, nullable=False),
    Column("unresolved", Integer, nullable=False),
    Column("right_status", Text, nullable=False),
    Column("right_result", Text, nullable=False),
    Column("left_status", Text, nullable=False),
    Column("left_result", Text, nullable=False),
    Column("attested_by", Text),
    Column("attested_at", Text),
    Column("last_number", Integer, nullable=False),
    Column("last_hash", Text, nullable=False),
    # All that a list asks for stands in them, so that a search reads nothing else. (When it was attested and not by
    # whom: a name may be longer than an index of PostgreSQL takes.)
    Index("exam_started", "started_at", "id", "sought", "unresolved", "attested_at"),
    Index("exam_unresolved", "unresolved", "started_at", "id", "sought", "attested_at"),
    Index("exam_sought", "sought"),
)

event: Final = Table(
    "event",
    metadata,
    Column("exam", Text, ForeignKey("exam.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("at", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("hash", Text, nullable=False),
    PrimaryKeyConstraint("exam", "number"),
)

leaf: Final = Table(
    "leaf",
    metadata,
    Column("position", Integer, primary_key=True, autoincrement=False),  # from 1: the size of the log with it
    Column("exam", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("listed", LargeBinary),  # what the list said of the exam's results with this event, hashed
    Column("leaf", LargeBinary, nullable=False),
    Column(
        "tree", LargeBinary
    ),  # the largest complete tree that ends here; none where that is the leaf itself
    UniqueConstraint("exam", "number", name="leaf_event"),
)

salt: Final = Table(
    "salt",
    metadata,
    Column("exam", Text, primary_key=True),
    Column("salt", LargeBinary, nullable=False),
)

erasure: Final = Table(
    "erasure",
    metadata,
    Column("exam", Text, primary_key=True),
    Column("number", Integer, nullable=False),
    Column("at", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("hash", Text, nullable=False),
)
