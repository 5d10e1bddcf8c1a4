"""Migrations: shipped with the package, run at start, one transaction, and the same tables as the queries use."""

import sqlite3
from contextlib import closing
from importlib.resources import files
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from voicelog.record import migrations
from voicelog.record.errors import RecordError
from voicelog.record.journal import Journal
from voicelog.record.tables import metadata

from .cases import dictated


def test_the_newest_migration_is_the_one_that_is_expected() -> None:
    config = Config()
    config.set_main_option("script_location", "voicelog.record:migrations")

    assert ScriptDirectory.from_config(config).get_heads() == [migrations.HEAD]


def test_scripts_lie_within_the_package() -> None:
    """What lies within `voicelog` goes into the wheel; Alembic's own template for new scripts is not needed there."""
    names = {path.name for path in files("voicelog.record.migrations").iterdir()}
    scripts = {path.name for path in (files("voicelog.record.migrations") / "versions").iterdir()}

    assert "env.py" in names
    assert any(name.startswith(migrations.HEAD) and name.endswith(".py") for name in scripts)


def test_migrations_make_the_tables_that_the_queries_use(journal: Journal) -> None:
    """Alembic's own comparison finds no difference."""
    with journal.database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})

        assert compare_metadata(context, metadata) == []


def test_opening_again_changes_nothing(folder: Path) -> None:
    with Journal.open(folder) as journal:
        store, _ = dictated(journal)
    before = (folder / "voicelog.db").read_bytes()

    with Journal.open(folder) as journal:
        assert journal.exam(store.exam).events

    assert (folder / "voicelog.db").read_bytes() == before


def test_a_record_of_a_newer_program_is_refused(folder: Path) -> None:
    Journal.open(folder).close()
    with closing(sqlite3.connect(folder / "voicelog.db")) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()

    with pytest.raises(RecordError, match=r"newer voicelog \(tables 9999\)"):
        Journal.open(folder)


def test_a_migration_that_fails_leaves_nothing_behind(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables, triggers and version are made in one transaction."""
    from alembic import op

    execute, count = op.execute, [0]

    def fail_at_the_third(statement: object) -> None:
        count[0] += 1
        if count[0] == 3:
            raise OSError(28, "No space left on device")
        execute(statement)  # type: ignore[arg-type]

    monkeypatch.setattr(op, "execute", fail_at_the_third)
    with pytest.raises(RecordError, match="full"):
        Journal.open(folder)
    with closing(sqlite3.connect(folder / "voicelog.db")) as connection:
        assert connection.execute("SELECT name FROM sqlite_master").fetchall() == []
    monkeypatch.setattr(op, "execute", execute)

    with Journal.open(folder) as journal:
        dictated(journal)
