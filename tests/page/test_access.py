"""Where the page may be served, and the passphrase that others need."""

import json
import socket
import ssl
import urllib.error
import urllib.request
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from voicelog.cli import main
from voicelog.page.access import Access, Binding, PageError
from voicelog.page.serving import PageServer
from voicelog.page.tries import Tries
from voicelog.settings import Settings

PASSPHRASE = "seven blue lenses"


@pytest.fixture(scope="module", name="certificate")
def _certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate of its own for 127.0.0.1, and its key."""
    folder = tmp_path_factory.mktemp("tls")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "127.0.0.1")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        .sign(key, hashes.SHA256())
    )
    paths = folder / "certificate.pem", folder / "key.pem"
    paths[0].write_bytes(made.public_bytes(serialization.Encoding.PEM))
    paths[1].write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    return paths


@pytest.mark.parametrize(
    ("given", "what"),
    [
        ({"host": "0.0.0.0"}, "names no address"),
        ({"host": "::"}, "names no address"),
        ({"host": "localhost"}, "no IP address"),
        ({"host": "192.0.2.7"}, "certificate and its key"),
        ({"host": "192.0.2.7", "certificate": "here", "key": "here"}, "VOICELOG_PASSPHRASE"),
        ({"host": "192.0.2.7", "certificate": "here", "key": "here", "passphrase": "short"}, "too short"),
        ({"certificate": "here"}, "needs its key"),
        ({"certificate": "nowhere", "key": "here"}, "no such file"),
        ({"port": 65_536}, "port 65536"),
    ],
)
def test_a_binding_that_is_not_safe_is_refused(
    certificate: tuple[Path, Path], given: dict[str, object], what: str
) -> None:
    places = {"here": certificate[0], "nowhere": certificate[0].with_name("none")}
    arguments = {
        name: places[str(value)] if name in ("certificate", "key") else value for name, value in given.items()
    }

    with pytest.raises(PageError, match=what):
        Binding(**arguments)  # type: ignore[arg-type]


def test_a_port_that_is_taken_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    with PageServer(Binding(), settings=Settings()) as server:
        port = server.bound[1]
        assert main(["review", "--port", str(port), "--no-open"]) == 2
    assert capsys.readouterr().err.startswith(f"voicelog: port {port} of 127.0.0.1 cannot be used")


@pytest.mark.parametrize("port", ["0", "65536", "x", "-1", "８0"])
def test_a_port_that_is_none_is_one_line(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as raised:
        main(["review", f"--port={port}"])
    assert raised.value.code == 2
    assert "is not a port" in capsys.readouterr().err


def test_a_certificate_that_is_none_is_one_line(
    certificate: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = str(certificate[1])

    assert main(["review", "--no-open", "--certificate", wrong, "--key", wrong]) == 2
    assert "cannot be used" in capsys.readouterr().err


def test_two_starts_have_nothing_in_common() -> None:
    first, second = (Access.at(Binding(), 80) for _ in range(2))

    for one, other in ((first.base, second.base), (first.sessions.key, second.sessions.key)):
        assert one != other
        assert one not in repr(first)
    assert len(first.sessions.key) >= 43


@pytest.mark.parametrize(
    ("tls", "port", "hosts"),
    [
        (False, 80, {"127.0.0.1", "127.0.0.1:80", "localhost", "localhost:80"}),
        (True, 443, {"127.0.0.1", "127.0.0.1:443", "localhost", "localhost:443"}),
        (False, 443, {"127.0.0.1:443", "localhost:443"}),
        (True, 80, {"127.0.0.1:80", "localhost:80"}),
    ],
)
def test_a_browser_leaves_out_the_schemes_own_port(
    certificate: tuple[Path, Path], tls: bool, port: int, hosts: set[str]
) -> None:
    """RFC 9110, 4.2.3 and 7.2: the default port may be left out, and browsers leave it out of Host and Origin."""
    files = certificate if tls else (None, None)

    assert Access.at(Binding(certificate=files[0], key=files[1]), port).hosts == hosts


def test_each_address_waits_for_its_own_wrong_passphrases() -> None:
    now_s = 100.0
    tries = Tries(lambda: now_s)

    assert tries.begin("192.0.2.1") == 0.0
    assert tries.begin("192.0.2.1") == 1.0, "also while the first is being looked at"
    assert tries.begin("192.0.2.2") == 0.0, "somebody else"
    now_s += 1.0
    assert tries.begin("192.0.2.1") == 0.0
    assert tries.begin("192.0.2.1") == 2.0
    tries.was_right("192.0.2.1")
    assert tries.begin("192.0.2.1") == 0.0
    assert tries.begin("192.0.2.1") == 1.0
    for _ in range(20):
        now_s += 64.0
        assert tries.begin("192.0.2.2") == 0.0
    assert tries.begin("192.0.2.2") == 64.0
    assert tries.begin("2001:db8::1") == 0.0
    assert tries.begin("2001:db8::ffff:2") > 0.0, "anybody may take any address of a /64"
    assert tries.begin("2001:db8:0:1::1") == 0.0


def test_the_passphrase_opens_the_page_over_tls(
    certificate: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    binding = Binding(certificate=certificate[0], key=certificate[1], passphrase=PASSPHRASE)
    trusted = ssl.create_default_context(cafile=str(certificate[0]))
    with PageServer(binding, settings=Settings()) as server:
        base, now_s = server.page.access.base, 0.0
        monkeypatch.setattr(server.page, "tries", Tries(lambda: now_s))

        def ask(path: str, data: object = None, cookie: str = "") -> tuple[int, str]:
            body = None if data is None else json.dumps(data).encode()
            headers = {"Origin": server.origin, "Content-Type": "application/json", "Cookie": cookie}
            request = urllib.request.Request(server.origin + path, body, headers)
            try:
                with urllib.request.urlopen(request, context=trusted, timeout=10) as answer:
                    return answer.status, answer.headers.get("set-cookie", "")
            except urllib.error.HTTPError as error:
                with error:
                    return error.code, ""

        assert server.origin.startswith("https://127.0.0.1:")
        assert ask("/enter")[0] == 200
        assert ask(base + "/review")[0] == 403
        assert ask("/review")[0] == 403
        assert ask("/enter", {"passphrase": "x"})[0] == 403
        assert ask("/enter", {"passphrase": PASSPHRASE})[0] == 429
        now_s = 1.5
        assert ask("/enter", {"passphrase": PASSPHRASE + "x"})[0] == 403
        now_s = 4.0
        status, cookie = ask("/enter", {"passphrase": PASSPHRASE})
        assert status == 200
        assert cookie.startswith("__Secure-voicelog=")
        assert "secure" in cookie.split(";", 1)[1].lower()
        assert ask(base + "/review", cookie=cookie.split(";")[0])[0] == 200


@pytest.mark.filterwarnings("ignore:ssl.TLSVersion:DeprecationWarning")
def test_tls_is_of_today(certificate: tuple[Path, Path]) -> None:
    """Nothing older than TLS 1.2, and 1.3 where both can."""

    def version(newest: ssl.TLSVersion) -> str | None:
        trusted = ssl.create_default_context(cafile=str(certificate[0]))
        trusted.set_ciphers("DEFAULT@SECLEVEL=0")  # the client would take anything
        trusted.minimum_version, trusted.maximum_version = ssl.TLSVersion.MINIMUM_SUPPORTED, newest
        with (
            socket.create_connection(server.bound, timeout=10) as plain,
            trusted.wrap_socket(plain, server_hostname="127.0.0.1") as secured,
        ):
            return secured.version()

    with PageServer(Binding(certificate=certificate[0], key=certificate[1]), settings=Settings()) as server:
        assert version(ssl.TLSVersion.MAXIMUM_SUPPORTED) == "TLSv1.3"
        assert version(ssl.TLSVersion.TLSv1_2) == "TLSv1.2"
        with pytest.raises((ssl.SSLError, ConnectionError)):
            version(ssl.TLSVersion.TLSv1_1)


def test_without_a_passphrase_there_is_no_way_in_by_one() -> None:
    assert not Access.at(Binding(), 80).is_passphrase("")
    assert not Access.at(Binding(), 80).is_passphrase("None")
