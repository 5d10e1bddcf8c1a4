"""Changes of the tables, in order, and how they are made when a database is opened.

A database of a newer program is refused. Nothing in a migration may touch an event that is there.
"""

from importlib import import_module
from typing import Final

from sqlalchemy import Connection, inspect, text

from voicelog.record.databases import Database
from voicelog.record.errors import RecordError

HEAD: Final = "0003"  # the newest migration (a test compares it with the scripts)
_LOCK: Final = 0x766C6F67  # any number of our own: one migrates, the others wait


def migrate(database: Database) -> None:
    """Bring the tables up to date, in one transaction. Raises RecordError."""
    with database.reading() as connection:
        if _revision(connection) == HEAD:
            return
    _load()  # before the database is held: others wait for it
    with database.writing() as connection:
        if not database.is_file:
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        _upgrade(connection, database.where)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one_or_none()


def _load() -> None:
    """Only when there is something to do: it takes a moment."""
    import_module("alembic.command")


def _upgrade(connection: Connection, where: str) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", "voicelog.record:migrations")
    config.attributes["connection"] = connection
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    revision = _revision(connection)
    if revision is not None and revision not in known:
        raise RecordError(f"{where} was made by a newer voicelog (tables {revision}): use that one")
    command.upgrade(config, "head")
