"""Who may use the page: the address it is served at, who is let in, and a passphrase beyond loopback."""

import hmac
import ipaddress
import secrets
import ssl
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from voicelog.errors import VoicelogError
from voicelog.page.sessions import Sessions

LOOPBACK: Final = "127.0.0.1"
_OWN_PORT: Final = {"http": 80, "https": 443}
_SHORTEST_PASSPHRASE: Final = 12


class PageError(VoicelogError):
    """The page cannot be served, or does not do what was asked of it; the message is one line."""


@dataclass(frozen=True, slots=True)
class Binding:
    """Where the page is served.

    Anything but loopback needs a certificate with its key (PEM files) and a passphrase of 12 characters or more.
    Raises PageError for an address that cannot be bound to or checked.
    """

    host: str = LOOPBACK
    port: int = 0
    """0: any that is free."""
    certificate: Path | None = None
    key: Path | None = None
    passphrase: str | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        if not 0 <= self.port <= 65_535:
            raise PageError(f"port {self.port}: allowed are 1 to 65535, or 0 for any that is free")
        address = self._address()
        if address.is_unspecified:
            raise PageError(f"{self.host} names no address: give the one address that others will open")
        if (self.certificate is None) != (self.key is None):
            raise PageError("a certificate needs its key, and a key its certificate")
        for path in (self.certificate, self.key):
            if path is not None and not path.is_file():
                raise PageError(f"{path}: no such file")
        if not address.is_loopback and self.certificate is None:
            raise PageError(f"{self.host} can be reached by others: give a TLS certificate and its key")
        if not address.is_loopback and self.passphrase is None:
            raise PageError(f"{self.host} can be reached by others: set a passphrase in VOICELOG_PASSPHRASE")
        if self.passphrase is not None and len(self.passphrase) < _SHORTEST_PASSPHRASE:
            raise PageError(
                f"the passphrase is too short: {_SHORTEST_PASSPHRASE} characters or more are needed"
            )
        if self.certificate is not None:
            _try_certificate(self.certificate, self.key)

    def _address(self) -> ipaddress.IPv4Address | ipaddress.IPv6Address:
        try:
            return ipaddress.ip_address(self.host)
        except ValueError:
            raise PageError(f"{self.host!r} is no IP address, as in {LOOPBACK}") from None

    @property
    def is_loopback(self) -> bool:
        """Whether only this machine can reach it."""
        return self._address().is_loopback


def _try_certificate(certificate: Path, key: Path | None) -> None:
    def no_password() -> str:
        raise ValueError("the key is locked with a password")

    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, no_password)
    except (ssl.SSLError, OSError, ValueError) as error:
        raise PageError(f"{certificate} with {key} cannot be used for TLS: {error}") from None


@dataclass(frozen=True, slots=True)
class Access:
    """The page's own names and secrets for one start. Nobody gets in without a token."""

    scheme: str
    hosts: frozenset[str]
    """What the header Host may say, with the port unless it is the scheme's own."""
    cookie: str
    base: str = field(default_factory=lambda: f"/{secrets.token_urlsafe(16)}", repr=False)
    """What the path of every page begins with. Cookies know of paths but not of ports: another program's page on this
    machine is sent the cookie only if it knows this."""
    passphrase: str | None = field(default=None, repr=False)
    sessions: Sessions = field(default_factory=Sessions, repr=False)

    @classmethod
    def at(cls, binding: Binding, port: int) -> "Access":
        """Access to a page that is served at `port`, with nobody let in yet."""
        names = [f"[{binding.host}]" if ":" in binding.host else binding.host]
        if binding.is_loopback:
            names.append("localhost")
        scheme = "http" if binding.certificate is None else "https"
        ports = ["", f":{port}"] if port == _OWN_PORT[scheme] else [f":{port}"]
        return cls(
            scheme=scheme,
            hosts=frozenset(name + end for name in names for end in ports),
            cookie="voicelog" if scheme == "http" else "__Secure-voicelog",
            passphrase=binding.passphrase,
        )

    @property
    def origins(self) -> frozenset[str]:
        """What the header Origin may say."""
        return frozenset(f"{self.scheme}://{host}" for host in self.hosts)

    def inside(self, path: str) -> str | None:
        """The path of a page without `base`; None for what is outside."""
        return path.removeprefix(self.base) if path.startswith(f"{self.base}/") else None

    def is_passphrase(self, given: str) -> bool:
        """Whether this is the passphrase; never where none is set."""
        if self.passphrase is None:
            return False
        return hmac.compare_digest(given.encode(), self.passphrase.encode())
