"""Memory that the networks use for a moment: it is freed, but the C library would keep it."""

import ctypes
import re
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
"""Names of mallopt's parameters (malloc.h of the GNU C library)."""
_LARGE = 128 * 1024
"""Bytes. What the library begins with; it would raise both limits with each larger block that is freed, to 32 MB."""

_DONT_NEED = 4
"""Advice to madvise (madvise(2))."""
_SMAPS = Path("/proc/self/smaps")
_HEADING = re.compile(r"([0-9a-f]+)-([0-9a-f]+) \S+ \S+ \S+ \d+ *(.*)")
"""A mapping in that file: first and last address, and the file (proc_pid_smaps(5))."""


def give_back() -> None:
    """Hand freed memory back to the system: 35 MB behind each network. Does nothing where there is no GNU C library."""
    library = _c_library()
    if library is not None:
        library.malloc_trim(0)


def keep_none_back() -> None:
    """From now on large blocks go back to the system when they are freed: 20 MB less at most, for 5 % more CPU.

    Else what a long utterance took lies beside what the next one takes. All threads share one heap: each with its own
    kept 4 MB more. Only where memory comes from is changed. Does nothing where there is no GNU C library.
    """
    library = _c_library()
    if library is not None:
        library.mallopt(_MMAP_THRESHOLD, _LARGE)
        library.mallopt(_TRIM_THRESHOLD, _LARGE)
        library.mallopt(_ARENA_MAX, 1)


def let_go_of(file: Path) -> None:
    """Give back the memory that holds what was read of a mapped file; it is read again where it is needed again.

    A network packs most of its weights anew when it is loaded, and reads them in the file no more: 27 MB of the judge.
    What was written to, which lies in no file, stays. Does nothing where there is no GNU C library.
    """
    library = _c_library()
    if library is None:
        return
    for mapping in _mappings(file):
        if mapping.written_kb == 0:
            library.madvise(ctypes.c_void_p(mapping.start), ctypes.c_size_t(mapping.length), _DONT_NEED)


class _Mapping(NamedTuple):
    """Where in memory a file lies, in bytes, and how many kilobytes there differ from it."""

    start: int
    length: int
    written_kb: int


def _mappings(file: Path) -> list[_Mapping]:
    found: list[_Mapping] = []
    theirs = False
    with suppress(OSError):
        for line in _SMAPS.read_text(errors="replace").splitlines():
            if heading := _HEADING.match(line):
                theirs = heading[3] == str(file)
                start, end = (int(each, 16) for each in heading.groups()[:2])
                if theirs:
                    found.append(_Mapping(start, end - start, 0))
            elif theirs and line.startswith(("Anonymous:", "Swap:")):
                found[-1] = found[-1]._replace(written_kb=found[-1].written_kb + int(line.split()[1]))
    return found


def _c_library() -> Any:
    """The GNU C library; None elsewhere."""
    if sys.platform == "linux":
        with suppress(OSError):
            library = ctypes.CDLL("libc.so.6")
            if hasattr(library, "malloc_trim") and hasattr(library, "mallopt"):
                return library
    return None
