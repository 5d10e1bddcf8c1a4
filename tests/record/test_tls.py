"""A database server that has no TLS, or another certificate than the practice's: said in one line, and nothing is lost.

PostgreSQL itself takes no TLS on the socket that the tests reach it by. So a gate stands before it on loopback: it hands the
server's own refusal on, or speaks TLS for it, as its message flow has it (PostgreSQL documentation, "SSL Session Encryption").
"""

import datetime
import select
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from sqlalchemy import make_url, text

from tests.record.cases import MORNING, dictated
from voicelog.record.errors import RecordUnreachableError
from voicelog.record.journal import Journal
from voicelog.record.storing import NotKeptError
from voicelog.record.verifying import verify

SSL_REQUEST = bytes.fromhex("0000000804d2162f")


def certificate(folder: Path, name: str) -> Path:
    """A certificate that signs itself, with its key, for a host's name."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .sign(key, hashes.SHA256())
    )
    path = folder / f"{name}.pem"
    path.write_bytes(
        made.public_bytes(serialization.Encoding.PEM)
        + key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    return path


class Gate:
    """In front of a server: `tls` is the certificate that it shows, or None for the server's own answer."""

    def __init__(self, server: Path) -> None:
        self.tls: Path | None = None
        self._server = server
        self._behind: list[socket.socket] = []
        self._threads: list[threading.Thread] = []
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = self._listening.getsockname()[1]
        self._start(self._accept)

    def cut(self) -> None:
        """End all connections that there are."""
        for each in self._behind:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self._listening.shutdown(socket.SHUT_RDWR)
        self._listening.close()
        self.cut()
        for each in self._threads:
            each.join(10)
            assert not each.is_alive()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                client, _ = self._listening.accept()
                self._start(self._begin, client)

    def _start(self, work: Callable[..., None], *given: socket.socket) -> None:
        self._threads.append(threading.Thread(target=work, args=given, daemon=True))
        self._threads[-1].start()

    def _begin(self, client: socket.socket) -> None:
        with suppress(OSError), client, socket.socket(socket.AF_UNIX) as server:
            server.connect(str(self._server))
            with self._with_tls(client) as spoken:
                self._behind.append(server)
                _pass_on(spoken, server)

    def _with_tls(self, client: socket.socket) -> socket.socket:
        if self.tls is None or client.recv(8, socket.MSG_PEEK | socket.MSG_WAITALL) != SSL_REQUEST:
            return client
        client.recv(8)
        client.sendall(b"S")
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(self.tls)
        return context.wrap_socket(client, server_side=True)


def _pass_on(client: socket.socket, server: socket.socket) -> None:
    """What either says to the other, until one of them ends."""
    while True:
        waits = isinstance(client, ssl.SSLSocket) and client.pending() > 0
        for one in [client] if waits else select.select([client, server], [], [])[0]:
            if not (some := one.recv(65536)):
                return
            (server if one is client else client).sendall(some)


@pytest.fixture(name="gate")
def _gate(database_url: str) -> Iterator[Gate]:
    folder = str(make_url(database_url).query["host"])
    with closing(Gate(Path(folder) / ".s.PGSQL.5432")) as gate:
        yield gate


def address(database_url: str, gate: Gate, mode: str, authority: Path | None = None) -> str:
    url = make_url(database_url).set(host="localhost", port=gate.port, password="secret")
    query = {"sslmode": mode} | ({"sslrootcert": str(authority)} if authority is not None else {})
    return url.set(query=query).render_as_string(hide_password=False)


def refused(folder: Path, url: str) -> str:
    with pytest.raises(RecordUnreachableError) as raised:
        Journal.open(folder, url)
    words = str(raised.value)
    assert "\n" not in words
    assert "secret" not in words
    return words


@pytest.mark.parametrize("mode", ["require", "verify-full"])
def test_a_server_without_tls_is_one_clear_line(
    gate: Gate, database_url: str, tmp_path: Path, mode: str
) -> None:
    own = certificate(tmp_path, "localhost")

    words = refused(tmp_path / "room", address(database_url, gate, mode, own))

    assert "no connection as its sslmode asks (server does not support SSL, but SSL was required)" in words
    # The same way in where none is asked for: it is the mode that was refused.
    with Journal.open(tmp_path / "room", address(database_url, gate, "prefer")) as room:
        assert room.names() == []


def test_only_the_practices_own_certificate_and_name_are_taken(
    gate: Gate, database_url: str, tmp_path: Path
) -> None:
    own, other = certificate(tmp_path, "localhost"), certificate(tmp_path, "elsewhere")
    url = address(database_url, gate, "verify-full", own)

    gate.tls = other
    assert "(SSL error: certificate verify failed)" in refused(tmp_path / "room", url)
    assert 'does not match host name "localhost")' in refused(
        tmp_path / "room", address(database_url, gate, "verify-full", other)
    )
    gate.tls = own
    with Journal.open(tmp_path / "room", url) as room:
        dictated(room, at=MORNING)
        assert verify(room).faults == ()
    gate.tls = other  # "require" encrypts, and checks nobody
    with Journal.open(tmp_path / "room", address(database_url, gate, "require")) as room:
        assert len(room.names()) == 1


def test_a_server_that_loses_its_tls_gets_no_entry_and_none_is_lost(
    gate: Gate, database_url: str, tmp_path: Path
) -> None:
    gate.tls = certificate(tmp_path, "localhost")
    url = address(database_url, gate, "verify-full", gate.tls)
    with Journal.open(tmp_path / "room", url) as room:
        store, session = dictated(room, at=MORNING)
        own, before = gate.tls, len(room.rows(store.exam))
        gate.tls = None
        gate.cut()
        with pytest.raises(NotKeptError) as raised:
            session.type_line("left eye")
        assert isinstance(raised.value.__cause__, RecordUnreachableError)
        assert "no connection as its sslmode asks" in str(raised.value)

        gate.tls = own
        session.type_line("left eye")

        assert len(room.rows(store.exam)) == before + 1
        assert room.exam(store.exam).state == session.state
        assert verify(room).faults == ()
        with room.database.reading() as connection:
            assert connection.execute(text("SELECT count(*) FROM event")).scalar_one() == before + 1
