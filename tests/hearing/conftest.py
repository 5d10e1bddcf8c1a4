"""A private sound server for the tests that capture real sound."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.hearing.pulse import PrivatePulse, missing_part


@pytest.fixture(name="pulse")
def private_pulse(tmp_path: Path) -> Iterator[PrivatePulse]:
    missing = missing_part()
    if missing is not None:
        pytest.skip(missing)
    server = PrivatePulse(tmp_path)
    yield server
    server.close()
