"""When an exam was attested stands in the indexes of the list: what is done is told apart without reading rows."""

from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make both indexes anew; no row is touched."""
    op.drop_index("exam_started", "exam")
    op.drop_index("exam_unresolved", "exam")
    op.create_index("exam_started", "exam", ["started_at", "id", "sought", "unresolved", "attested_at"])
    op.create_index("exam_unresolved", "exam", ["unresolved", "started_at", "id", "sought", "attested_at"])
