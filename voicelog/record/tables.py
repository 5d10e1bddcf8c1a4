"""The tables, as the queries use them; the migrations make them (a test compares the two).

`event` is the record: rows are only ever added. `exam` holds one row an exam, worked out from its events in the same
transaction, so that lists need not fold anything; `voicelog record verify` works it out again and compares.
"""

from typing import Final

from sqlalchemy import Column, ForeignKey, Index, Integer, MetaData, PrimaryKeyConstraint, Table, Text

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
    # `sought` stands in them so that a search reads nothing else.
    Index("exam_started", "started_at", "id", "sought"),
    Index("exam_unresolved", "unresolved", "started_at", "id", "sought"),
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
