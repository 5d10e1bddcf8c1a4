"""Where the page may be served, and the passphrase that others need."""

import json
import ssl
import time
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


def test_two_starts_have_two_tokens() -> None:
    first, second = (Access.at(Binding(), 80) for _ in range(2))

    assert first.token != second.token
    assert len(first.token) >= 43
    assert first.token not in repr(first)


def test_the_passphrase_opens_the_page_over_tls_once_a_second(certificate: tuple[Path, Path]) -> None:
    binding = Binding(certificate=certificate[0], key=certificate[1], passphrase=PASSPHRASE)
    trusted = ssl.create_default_context(cafile=str(certificate[0]))
    with PageServer(binding, settings=Settings()) as server:

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
        assert ask("/review")[0] == 403
        assert ask("/enter", {"passphrase": "x"})[0] == 403
        begun_s = time.monotonic()
        assert ask("/enter", {"passphrase": PASSPHRASE + "x"})[0] == 403
        assert time.monotonic() - begun_s >= 1.0
        status, cookie = ask("/enter", {"passphrase": PASSPHRASE})
        assert status == 200
        assert "secure" in cookie.lower()
        assert ask("/review", cookie=cookie.split(";")[0])[0] == 200


def test_without_a_passphrase_there_is_no_way_in_by_one() -> None:
    assert not Access.at(Binding(), 80).is_passphrase("")
    assert not Access.at(Binding(), 80).is_passphrase("None")
