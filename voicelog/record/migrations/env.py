"""Run by Alembic: the migrations use the connection, and the transaction, that they are given."""

from alembic import context

from voicelog.record.tables import metadata

context.configure(
    connection=context.config.attributes["connection"], target_metadata=metadata, transactional_ddl=True
)
with context.begin_transaction():
    context.run_migrations()
