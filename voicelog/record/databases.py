"""One database, two kinds: a file of SQLite for one room, a server of PostgreSQL for several."""

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DisconnectionError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry

from voicelog.errors import MissingPartError
from voicelog.record.errors import RecordError, in_plain_words
from voicelog.record.patience import CONNECT_S, ended_in_time, ping_at_checkout
from voicelog.record.places import private_file, private_folder

WAIT_MS: Final = 4500  # nobody waits longer than 5 s for another process; the rest is for the work itself
_JOURNAL_MODE_PAUSE_S: Final = 0.05


@dataclass(frozen=True)
class Database:
    """An engine, what to call it in messages (never with a password), and its file if it is one."""

    engine: Engine
    where: str
    path: Path | None = None

    @property
    def is_file(self) -> bool:
        """Whether this is SQLite."""
        return self.path is not None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One steady view of the database. Raises RecordError."""
        with (
            in_plain_words(self.where),
            self.engine.connect() as connection,
            self._steady(connection).begin(),
        ):
            yield connection

    @contextmanager
    def writing(self, *, prompt: bool = False) -> Iterator[Connection]:
        """One transaction, durable when this ends without an error. Raises RecordError.

        With `prompt`, a server that takes longer than somebody waits is given up within five seconds.
        """
        since = time.monotonic()
        with in_plain_words(self.where), self.engine.connect() as connection:
            limit = ended_in_time(connection, since) if prompt and not self.is_file else nullcontext()
            with limit, connection.begin():
                yield connection

    def fold(self) -> None:
        """Fold SQLite's write-ahead file into the database, as far as nobody reads what is older. Never raises.

        What lies in that file alone is lost with one bad bit of it; nothing else is lost when it is left for later.
        """
        if not self.is_file:
            return
        with suppress(SQLAlchemyError), self.engine.connect() as connection:
            raw = connection.connection.driver_connection
            if isinstance(raw, sqlite3.Connection):
                with suppress(sqlite3.Error):
                    raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        """Let go of all connections; SQLite then folds its write-ahead file into the database."""
        self.engine.dispose()

    def _steady(self, connection: Connection) -> Connection:
        if self.is_file:
            return connection.execution_options(reading=True)
        return connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)


def open_file(path: Path) -> Database:
    """The SQLite database in a file, made if there is none; only its user can read it. Raises RecordError."""
    with in_plain_words(str(path)):
        private_folder(path.parent)
        private_file(path)
    url = URL.create("sqlite", database=os.fspath(path))
    engine = create_engine(url, connect_args={"timeout": WAIT_MS / 1000})
    event.listen(engine, "connect", _prepare_file)
    event.listen(engine, "begin", _begin)
    _forget_read_only_connections(engine, path)
    return Database(engine, str(path), path)


def _forget_read_only_connections(engine: Engine, path: Path) -> None:
    """A connection made while the file could not be written to stays read-only: once it can be, make a new one."""

    def mark(_: object, record: ConnectionPoolEntry) -> None:
        record.info["read_only"] = not os.access(path, os.W_OK)

    def check(_: object, record: ConnectionPoolEntry, __: object) -> None:
        if record.info["read_only"] and os.access(path, os.W_OK):
            raise DisconnectionError

    event.listen(engine, "connect", mark)
    event.listen(engine, "checkout", check)


def text_of(raw: bytes) -> str:
    """A text as the file has it. A damaged one must reach `verify`, which names its row, instead of failing here."""
    return raw.decode("utf-8", errors="surrogateescape")


def _prepare_file(connection: sqlite3.Connection, _: object) -> None:
    # Transactions are begun by `_begin`: left to itself the driver would begin them too late.
    connection.isolation_level = None
    connection.text_factory = text_of
    mode = _to_write_ahead(connection)
    if mode != "wal":
        raise RecordError(
            f"this disk cannot keep a write-ahead file (SQLite stays in mode {mode}): use a local disk"
        )
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA secure_delete = ON")
    connection.execute(f"PRAGMA busy_timeout = {WAIT_MS}")


def _to_write_ahead(connection: sqlite3.Connection) -> str:
    """Two processes that make the file at the same moment can be told "busy" without any wait."""
    give_up = time.monotonic() + WAIT_MS / 1000
    while True:
        try:
            return str(connection.execute("PRAGMA journal_mode = WAL").fetchone()[0])
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > give_up:
                raise
            time.sleep(_JOURNAL_MODE_PAUSE_S)


def _begin(connection: Connection) -> None:
    # A writer asks for the lock at once: one that first reads and then writes can be refused without a wait.
    reading = connection.get_execution_options().get("reading")
    connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")


def open_server(address: str) -> Database:
    """A PostgreSQL database by its URL. Raises RecordError, MissingPartError without its driver."""
    try:
        url = make_url(address)
    except ArgumentError:
        raise RecordError("the database's address is no URL, as in postgresql://user@host/voicelog") from None
    if url.get_backend_name() != "postgresql":
        raise RecordError(f"a shared record lies on PostgreSQL, not on {url.get_backend_name()}")
    where = url.render_as_string(hide_password=True)
    try:
        engine = create_engine(url.set(drivername="postgresql+psycopg"), connect_args=_server_options())
    except ImportError:
        raise MissingPartError("a shared record needs psycopg: pip install 'voicelog[postgres]'") from None
    ping_at_checkout(engine)
    database = Database(engine, where)
    try:
        with database.reading() as connection:
            encoding = connection.exec_driver_sql("SHOW server_encoding").scalar_one()
        if encoding != "UTF8":
            raise RecordError(f"{where} is encoded in {encoding}; make it with encoding UTF8")
    except RecordError:
        database.close()
        raise
    return database


def _server_options() -> dict[str, Any]:
    # Whatever the server's own settings: a commit is on its disk before it is acknowledged, and waits end.
    session = f"-c synchronous_commit=on -c lock_timeout={WAIT_MS} -c timezone=UTC"
    return {"options": session, "connect_timeout": CONNECT_S, "tcp_user_timeout": WAIT_MS}
