"""The one base of every error this program raises on purpose.

The command line and the page catch only this base and print its one line.
(`voicelog.optics` stands alone and has a base of its own, `OpticsError`.)
"""

import errno
from typing import Final

_REASONS: Final = {
    errno.ENOENT: "no such file or folder",
    errno.ENOTDIR: "a file stands where a folder must be",
    errno.EISDIR: "it is a folder, not a file",
    errno.EEXIST: "there is something of that name already",
    errno.ENOTEMPTY: "the folder is not empty",
    errno.ELOOP: "the links there lead in a circle",
    errno.ENAMETOOLONG: "the name is too long",
    errno.EACCES: "this user may not",
    errno.EPERM: "this user may not",
    errno.EROFS: "the disk can only be read",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "this user has no room left on the disk",
    errno.EFBIG: "the file would be larger than allowed",
    errno.EIO: "the disk fails to read or write it",
    errno.EBUSY: "something else uses it",
    errno.EMFILE: "too many files are open",
    errno.ENFILE: "too many files are open",
    errno.ENOMEM: "no memory is left",
    errno.ESTALE: "the network disk is gone",
    errno.ETIMEDOUT: "the network disk does not answer",
}
"""What the system says in words of its own; POSIX names them."""


def reason_of(error: OSError) -> str:
    """Why a file could not be read or written, in plain words."""
    return _REASONS.get(error.errno or 0) or str(error.strerror or error)


class VoicelogError(Exception):
    """Something the user can act on; the message is one line: what, value, allowed, what to do."""


class MissingPartError(VoicelogError):
    """A part that the machine lacks (a microphone, a model, a system library); says what to install."""
