"""The one base of every error this program raises on purpose.

The command line and the page catch only this base and print its one line.
(`voicelog.optics` stands alone and has a base of its own, `OpticsError`.)
"""

import errno
from collections.abc import Mapping
from typing import Final

_DISK_WORDS: Final[Mapping[int | None, str]] = {
    errno.ENOENT: "no such file or folder",
    errno.EISDIR: "it is a folder",
    errno.ENOTDIR: "part of its path is no folder",
    errno.EEXIST: "it is there already",
    errno.EACCES: "you have no right to it",
    errno.EPERM: "you have no right to it",
    errno.EROFS: "the disk can only be read",
    errno.ENOSPC: "no room is left on the disk",
    errno.EDQUOT: "your share of the disk is full",
    errno.ENAMETOOLONG: "its name is too long",
}


class VoicelogError(Exception):
    """Something the user can act on; the message is one line: what, value, allowed, what to do."""


class MissingPartError(VoicelogError):
    """A part that the machine lacks (a microphone, a model, a system library); says what to install."""


def disk_words(error: OSError) -> str:
    """Why a file cannot be read or written, in plain words; the system's own, in small letters, for what is rare."""
    return _DISK_WORDS.get(error.errno) or (error.strerror or str(error)).lower()
