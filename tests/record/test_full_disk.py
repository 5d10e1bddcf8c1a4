"""A full disk, a limit on file size, and a folder that cannot be written to: said plainly, nothing lost, gone on after.

The full disk is a tmpfs of 1 MB, which only root can mount; the limit on file size needs no rights.
"""

import contextlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from voicelog.record.errors import RecordError, RecordFullError
from voicelog.record.journal import Journal
from voicelog.record.storing import NotKeptError
from voicelog.record.verifying import verify
from voicelog.session import Session

from .cases import dictated, not_kept

HERE = Path(__file__).parent
SOUND = (np.random.default_rng(1).random(16000) - 0.5).astype(np.float32)
LINES = (
    "right eye",
    "streak vertical neutral at plus one",
    "left eye",
    "streak horizontal with at minus two",
)


@pytest.fixture(name="small_disk")
def _small_disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m,mode=700", "voicelog-test", str(place)]
    try:
        done = subprocess.run(mount, capture_output=True, text=True)
    except FileNotFoundError:
        pytest.skip("there is no mount command here")
    if done.returncode:
        pytest.skip(f"a small disk cannot be mounted here: {done.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


@contextlib.contextmanager
def filled(place: Path) -> Iterator[None]:
    """No byte of room is left."""
    ballast = place / "ballast"
    with ballast.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"\0" * 512)
    try:
        yield
    finally:
        ballast.unlink()


def typed_until_refused(session: Session) -> None:
    with not_kept(RecordFullError, match=r"\A[^\n]*disk is full: make room[^\n]*\Z"):
        type_on(session)


def type_on(session: Session) -> None:
    for line in LINES * 100:
        before = session.state
        try:
            session.type_line(line)
        except NotKeptError:
            assert session.state == before
            raise


def test_a_full_disk_loses_nothing_and_is_recovered_from(small_disk: Path) -> None:
    """Full and empty again, in one session that stays open all the while."""
    with Journal.open(small_disk / "data") as journal:
        store, session = dictated(journal)
        for _ in range(4):
            with filled(small_disk):
                typed_until_refused(session)
                assert journal.exam(store.exam).state == session.state
                with pytest.raises(RecordFullError):
                    store.keep_clip(SOUND)
                assert list((small_disk / "data").glob("clips/*/*")) == []
            session.type_line("other eye")
            assert journal.exam(store.exam).state == session.state
        assert verify(journal).faults == ()
    with Journal.open(small_disk / "data") as journal:
        assert journal.exam(store.exam).state == session.state
        assert verify(journal).faults == ()


def opened_and_dictated(folder: Path) -> None:
    with Journal.open(folder) as journal:
        dictated(journal)


def test_opening_on_a_full_disk_says_so(small_disk: Path) -> None:
    """A new record has no room to be made in; an old one is there again when there is room."""
    with Journal.open(small_disk / "data") as journal:
        store, session = dictated(journal)
    with filled(small_disk):
        for name in ("new", "data"):
            with pytest.raises(RecordError) as raised:
                opened_and_dictated(small_disk / name)
            assert "\n" not in str(raised.value)

    with Journal.open(small_disk / "data") as journal:
        assert journal.exam(store.exam).state == session.state
        assert verify(journal).faults == ()


@pytest.fixture(scope="module", name="limits")
def _limits() -> dict[str, dict[str, object]]:
    """What limits_driver's scenarios come to, in a process of their own and a folder that any user can reach."""
    if os.name != "posix":
        pytest.skip("limits of file size and rights of files are POSIX's")
    with tempfile.TemporaryDirectory(prefix="vl-limits-") as place:
        done = subprocess.run(
            [sys.executable, "-m", "tests.record.limits_driver", place],
            capture_output=True,
            text=True,
            timeout=120,
            cwd=HERE,
            env=os.environ | {"PYTHONPATH": os.pathsep.join([str(HERE.parents[1]), *sys.path])},
        )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)  # type: ignore[no-any-return]


def test_a_limit_of_file_size_loses_nothing_and_is_recovered_from(
    limits: dict[str, dict[str, object]],
) -> None:
    found = limits["file-size"]

    assert found["refused"] == ["RecordError", "RecordFullError"]
    assert found["one_line"] is True
    assert found["acknowledged_are_kept"] is True
    assert found["goes_on"] is True
    assert found["faults"] == []


def test_a_read_only_folder_loses_nothing_and_is_recovered_from(
    limits: dict[str, dict[str, object]],
) -> None:
    """As an ordinary user, whom rights bind."""
    found = limits["read-only"]

    assert found["refused"] == ["RecordReadOnlyError"] * 3
    assert found["one_line"] is True
    assert found["acknowledged_are_kept"] is True
    assert found["goes_on"] is True
    assert found["faults"] == []
