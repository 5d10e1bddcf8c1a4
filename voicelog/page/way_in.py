"""The file that leads a browser in: only its user can read it, and the browser's command line names nothing else."""

import html
import socket
from pathlib import Path
from typing import Final

from voicelog.page.access import LOOPBACK
from voicelog.record.places import data_folder, private_folder, write_private

_NAME: Final = "page-{port}.html"
_SHORT_S: Final = 0.2


class WayIn:
    """The file of the page at one port. Those that killed programs left are removed when it is made."""

    def __init__(self, port: int) -> None:
        self._path = data_folder().absolute() / _NAME.format(port=port)
        self._is_written = False

    @property
    def uri(self) -> str:
        """What a browser is given."""
        return self._path.as_uri()

    def write(self, address: str) -> None:
        """Have it lead to an address. Raises OSError."""
        _remove_left_over(private_folder(self._path.parent))
        self._write(address)

    def rewrite(self, address: str) -> None:
        """Have it lead to another address, if it was written. Raises OSError."""
        if self._is_written:
            self._write(address)

    def _write(self, address: str) -> None:
        shown = html.escape(address)
        write_private(
            self._path,
            f'<!doctype html><html lang="en"><meta charset="utf-8"><title>voicelog</title>'
            f'<meta name="referrer" content="no-referrer"><meta http-equiv="refresh" content="0;url={shown}">'
            f'<p><a href="{shown}">To the page</a></html>\n'.encode(),
        )
        self._is_written = True

    def remove(self) -> None:
        """Take it away."""
        if self._is_written:
            self._path.unlink(missing_ok=True)


def _remove_left_over(folder: Path) -> None:
    for path in folder.glob(_NAME.format(port="*")):
        port = path.stem.removeprefix("page-")
        if port.isdigit() and not _is_served(int(port)):
            path.unlink(missing_ok=True)


def _is_served(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(_SHORT_S)
        return probe.connect_ex((LOOPBACK, port)) == 0
