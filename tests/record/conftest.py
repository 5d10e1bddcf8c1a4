"""Journals to test on: a new file for each test, and a PostgreSQL server of our own."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from voicelog.phrases.lines import LineReader
from voicelog.record.journal import Journal

from .cases import copied

_DEBIAN = Path("/usr/lib/postgresql")


@pytest.fixture(scope="session", autouse=True)
def _every_line_is_read_once() -> Iterator[None]:
    """The same few lines are typed hundreds of times, and what becomes of them is tested here, not what they say."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(LineReader, "phrase", cache(LineReader.phrase))
        yield


@pytest.fixture(name="folder")
def _folder(tmp_path: Path) -> Iterator[Path]:
    """A place for a journal: in memory where that can be had, for a busy disk can take seconds for one sync.

    What is about the disk itself (crashes, no room, rights, benchmarks) uses `tmp_path`.
    """
    memory = Path("/dev/shm")
    if not (memory.is_dir() and os.access(memory, os.W_OK)):
        yield tmp_path / "data"
        return
    with tempfile.TemporaryDirectory(prefix="vl-test-", dir=memory) as place:
        yield Path(place) / "data"


@pytest.fixture(scope="session", name="empty")
def _empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a record without exams, to be copied: its tables take longer to make."""
    place = tmp_path_factory.mktemp("empty") / "data"
    Journal.open(place).close()
    return place


@pytest.fixture(name="journal")
def _journal(folder: Path, empty: Path) -> Iterator[Journal]:
    with copied(empty, folder) as journal:
        yield journal


@pytest.fixture(scope="session", name="server")
def _server() -> Iterator[str]:
    """URL of a PostgreSQL server in a temporary folder, reached by a socket there; it ends with the tests."""
    programs = _programs()
    # A socket's path may be 107 characters long; pytest's folders can be longer.
    place = Path(tempfile.mkdtemp(prefix="vl-pg-"))
    as_owner = _owner(place)
    data = place / "data"
    try:
        _run(
            *as_owner,
            programs / "initdb",
            "-D",
            data,
            "-U",
            "tests",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C",
            "--no-sync",
        )
        options = f"-k {place} -c listen_addresses='' -c max_connections=30 {_NO_SYNC}"
        log = place / "log"
        _run(*as_owner, programs / "pg_ctl", "-D", data, "-l", log, "-o", options, "-w", "start")
        try:
            yield f"postgresql://tests@/postgres?host={place}"
        finally:
            _run(*as_owner, programs / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(place, ignore_errors=True)


_NO_SYNC = "-c fsync=off -c full_page_writes=off"
"""What is committed is there for every program; only of a machine that loses power nothing can be learned here."""


@pytest.fixture(name="database_url")
def _database_url(server: str, request: pytest.FixtureRequest) -> Iterator[str]:
    """A new, empty database on the server."""
    psycopg = pytest.importorskip("psycopg", reason="psycopg is not installed (extra: postgres)")
    name = f"t{abs(hash(request.node.nodeid)):x}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        connection.execute(f"CREATE DATABASE {name}")
        yield server.replace("/postgres?", f"/{name}?")
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


def _programs() -> Path:
    for folder in sorted(_DEBIAN.glob("*/bin"), reverse=True):
        if (folder / "initdb").exists():
            return folder
    pytest.skip("PostgreSQL is not installed (Debian: apt-get install postgresql)")


def _owner(place: Path) -> list[str]:
    """PostgreSQL refuses to run as root; Debian's package makes the user postgres for it."""
    if os.getuid() != 0:
        return []
    shutil.chown(place, "postgres")
    return ["runuser", "-u", "postgres", "--"]


def _run(*command: str | Path) -> None:
    done = subprocess.run(
        [str(each) for each in command], capture_output=True, text=True, timeout=60, cwd="/"
    )
    if done.returncode:
        raise RuntimeError(f"{command} failed: {done.stdout}{done.stderr}")
