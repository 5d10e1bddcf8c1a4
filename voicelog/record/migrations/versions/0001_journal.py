"""The journal: events that are only ever added, and the one row an exam for lists."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables, and the triggers that refuse every change of what is kept."""
    _exam()
    _event()
    for statement in _POSTGRESQL if op.get_bind().dialect.name == "postgresql" else _SQLITE:
        op.execute(sa.text(statement))


def _exam() -> None:
    op.create_table(
        "exam",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("reference", sa.Text, nullable=False),
        sa.Column("sought", sa.Text, nullable=False),
        sa.Column("started_at", sa.Text, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sa.Column("unresolved", sa.Integer, nullable=False),
        sa.Column("right_status", sa.Text, nullable=False),
        sa.Column("right_result", sa.Text, nullable=False),
        sa.Column("left_status", sa.Text, nullable=False),
        sa.Column("left_result", sa.Text, nullable=False),
        sa.Column("attested_by", sa.Text),
        sa.Column("attested_at", sa.Text),
        sa.Column("last_number", sa.Integer, nullable=False),
        sa.Column("last_hash", sa.Text, nullable=False),
    )
    op.create_index("exam_started", "exam", ["started_at", "id", "sought"])
    op.create_index("exam_unresolved", "exam", ["unresolved", "started_at", "id", "sought"])
    op.create_index("exam_sought", "exam", ["sought"])


def _event() -> None:
    op.create_table(
        "event",
        sa.Column("exam", sa.Text, sa.ForeignKey("exam.id"), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("exam", "number"),
    )


# "INSERT OR REPLACE" removes a row without asking the DELETE trigger, hence the one on INSERT.
_SQLITE = (
    """CREATE TRIGGER event_not_changed BEFORE UPDATE ON event
       BEGIN SELECT RAISE(ABORT, 'events are only added, never changed'); END""",
    """CREATE TRIGGER event_not_removed BEFORE DELETE ON event
       BEGIN SELECT RAISE(ABORT, 'events are only added, never removed'); END""",
    """CREATE TRIGGER event_in_order BEFORE INSERT ON event
       WHEN NEW.number <> (SELECT coalesce(max(number), -1) + 1 FROM event WHERE exam = NEW.exam)
       BEGIN SELECT RAISE(ABORT, 'events are added at the end of their exam'); END""",
    """CREATE TRIGGER exam_not_removed BEFORE DELETE ON exam
       BEGIN SELECT RAISE(ABORT, 'exams are never removed'); END""",
    """CREATE TRIGGER exam_not_renamed BEFORE UPDATE OF id ON exam
       BEGIN SELECT RAISE(ABORT, 'exams are never renamed'); END""",
    """CREATE TRIGGER exam_not_replaced BEFORE INSERT ON exam
       WHEN EXISTS (SELECT 1 FROM exam WHERE id = NEW.id)
       BEGIN SELECT RAISE(ABORT, 'there is an exam of that name'); END""",
)

_POSTGRESQL = (
    """CREATE FUNCTION voicelog_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN RAISE EXCEPTION 'events and exams are only added, never changed or removed'; END $$""",
    """CREATE FUNCTION voicelog_in_order() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN
         IF NEW.number <> (SELECT coalesce(max(number), -1) + 1 FROM event WHERE exam = NEW.exam) THEN
           RAISE EXCEPTION 'events are added at the end of their exam';
         END IF;
         RETURN NEW;
       END $$""",
    """CREATE TRIGGER event_not_changed BEFORE UPDATE OR DELETE OR TRUNCATE ON event
       FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()""",
    """CREATE TRIGGER event_in_order BEFORE INSERT ON event
       FOR EACH ROW EXECUTE FUNCTION voicelog_in_order()""",
    """CREATE TRIGGER exam_not_removed BEFORE DELETE OR TRUNCATE ON exam
       FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()""",
    """CREATE TRIGGER exam_not_renamed BEFORE UPDATE OF id ON exam
       FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()""",
)
