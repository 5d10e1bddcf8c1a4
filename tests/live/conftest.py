"""One private sound server for the live exams of a test module."""

from collections.abc import Iterator

import pytest

from tests.hearing.pulse import PrivatePulse, missing_part


@pytest.fixture(scope="module", name="server")
def _server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PrivatePulse]:
    missing = missing_part()
    if missing is not None:
        pytest.skip(missing)
    server = PrivatePulse(tmp_path_factory.mktemp("pulse"))
    yield server
    server.close()
