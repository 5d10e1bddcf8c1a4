"""The key with which this machine signs the heads of its record: Ed25519 (RFC 8032), in a file of its user's own."""

import os
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Final

from voicelog.record.errors import RecordError
from voicelog.record.places import private_folder, sync_folder

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY_NAME: Final = "voicelog.key"
_RAW_BYTES: Final = 32


class MachineKey:
    """The key in a folder; made at its first use. `cryptography` is loaded only then."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / KEY_NAME

    @cached_property
    def public(self) -> bytes:
        """The public key, 32 bytes. Raises RecordError, OSError."""
        return self._private.public_key().public_bytes_raw()

    def sign(self, message: bytes) -> bytes:
        """A signature, 64 bytes. Raises RecordError, OSError."""
        return self._private.sign(message)

    @cached_property
    def _private(self) -> "Ed25519PrivateKey":
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        try:
            raw = self.path.read_bytes()
        except FileNotFoundError:
            raw = self._made(Ed25519PrivateKey.generate().private_bytes_raw())
        if len(raw) != _RAW_BYTES:
            raise RecordError(f"{self.path} is no key of this program: move it away, and another is made")
        return Ed25519PrivateKey.from_private_bytes(raw)

    def _made(self, raw: bytes) -> bytes:
        """The key that lies there in the end: of two programs that make one, the first wins."""
        private_folder(self.path.parent)
        part = self.path.with_name(f".{KEY_NAME}.{os.getpid()}.part")
        with os.fdopen(os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(part, self.path)
        except FileExistsError:
            pass
        except OSError:  # a disk without hard links
            os.replace(part, self.path)
        finally:
            part.unlink(missing_ok=True)
        sync_folder(self.path.parent)
        return self.path.read_bytes()


def is_signed(public: bytes, message: bytes, signature: bytes) -> bool:
    """Whether a signature is that of the key's owner."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True
