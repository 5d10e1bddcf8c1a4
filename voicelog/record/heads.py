"""The head of the record's log: how many events there are, one hash over all of them, signed by the machine.

As text it is one line of seven words, for paper, a QR code, a backup and the file beside the database:

    voicelog-head-1 SIZE ROOT EXAM/NUMBER AT KEY SIGNATURE

SIZE counts the events, ROOT is the hash of RFC 9162's tree over them, EXAM/NUMBER and AT (UTC) are the last event and
its time, KEY is the public Ed25519 key, SIGNATURE that key's over the line up to it. Hashes, key and signature are
base64url (RFC 4648, section 5) without padding.
"""

import re
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import dataclass
from typing import Final

from voicelog.record.errors import RecordError
from voicelog.record.keys import MachineKey, is_signed

FORM: Final = "voicelog-head-1"
_LINE: Final = re.compile(
    rf"{FORM} (?P<size>[1-9][0-9]{{0,14}}) (?P<root>[\w-]{{43}}) (?P<exam>[0-9a-z-]{{1,40}})/(?P<number>[0-9]{{1,9}})"
    r" (?P<at>[0-9T:.-]{20,30}Z) (?P<key>[\w-]{43}) (?P<signature>[\w-]{86})",
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Head:
    """A signed head. `root` is 32 bytes, `at` UTC with microseconds, `key` 32 and `signature` 64 bytes."""

    size: int
    root: bytes
    exam: str
    number: int
    at: str
    key: bytes
    signature: bytes

    def __str__(self) -> str:
        return f"{_stated(self.size, self.root, self.exam, self.number, self.at, self.key)} {_text(self.signature)}"

    @property
    def is_signed(self) -> bool:
        """Whether the signature is that of the key it names."""
        message = _stated(self.size, self.root, self.exam, self.number, self.at, self.key)
        return is_signed(self.key, message.encode(), self.signature)

    @property
    def last(self) -> str:
        """Its last event, in words."""
        return f"exam {self.exam}, event {self.number}, {self.at}"


def signed(size: int, root: bytes, exam: str, number: int, at: str, key: MachineKey) -> Head:
    """The head of a log whose last event is named, signed by this machine. Raises RecordError, OSError."""
    message = _stated(size, root, exam, number, at, key.public)
    return Head(size, root, exam, number, at, key.public, key.sign(message.encode()))


def head_of(text: str) -> Head:
    """The head that a text is; words may be parted by line ends. Raises RecordError for what is none."""
    line = " ".join(text.split())
    found = _LINE.fullmatch(line)
    if found is None:
        raise RecordError(f"{line[:40]!r} is no head of a record: it begins with {FORM} and has seven words")
    root, key, signature = (_bytes(found[name]) for name in ("root", "key", "signature"))
    return Head(int(found["size"]), root, found["exam"], int(found["number"]), found["at"], key, signature)


def _stated(size: int, root: bytes, exam: str, number: int, at: str, key: bytes) -> str:
    return f"{FORM} {size} {_text(root)} {exam}/{number} {at} {_text(key)}"


def _text(raw: bytes) -> str:
    return urlsafe_b64encode(raw).rstrip(b"=").decode()


def _bytes(text: str) -> bytes:
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))
