"""Letting go of a file in memory: less is held, and what is read there afterwards is the same."""

import mmap
import sys
from pathlib import Path

import pytest

from voicelog.hearing.engines.memory import let_go_of

_SIZE = 8 * 1024 * 1024

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="what a program holds is read in /proc")


def _held_kb(file: Path) -> int:
    """How much of a mapped file is in this program's memory, by another account than the one that is tested."""
    parts = Path("/proc/self/smaps").read_text(errors="replace").split(str(file))
    return int(parts[1].split("Rss:")[1].split()[0])


@pytest.fixture(name="file")
def _file(tmp_path: Path) -> Path:
    file = (tmp_path / "weights").resolve()
    file.write_bytes(bytes(range(256)) * (_SIZE // 256))
    return file


def test_a_file_that_was_read_is_let_go_and_reads_the_same(file: Path) -> None:
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, flags=mmap.MAP_PRIVATE) as mapped:
        before = mapped[:]
        assert _held_kb(file) > _SIZE // 2048

        let_go_of(file)

        assert _held_kb(file) < 100
        assert mapped[:] == before == file.read_bytes()


def test_what_was_written_there_stays(file: Path) -> None:
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, flags=mmap.MAP_PRIVATE) as mapped:
        mapped[5] = 77

        let_go_of(file)

        assert mapped[5] == 77


def test_another_file_is_left_alone(file: Path) -> None:
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, flags=mmap.MAP_PRIVATE) as mapped:
        mapped[:]

        let_go_of(file.with_name("other"))

        assert _held_kb(file) > _SIZE // 2048
