"""A private sound server for the tests that capture real sound."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.hearing.packed import HeardClip, all_heard, some_heard
from tests.hearing.pulse import PrivatePulse, missing_part
from voicelog.hearing.engines.protocol import Engine


@pytest.fixture(
    scope="session", name="packed", params=[6, pytest.param(1, marks=pytest.mark.sweep)], ids=["some", "all"]
)
def _packed(request: pytest.FixtureRequest, engine: Engine) -> list[HeardClip]:
    """The packed recordings, one in six or all of them, heard once in a run."""
    return all_heard() if request.param == 1 else some_heard(engine, request.param)


@pytest.fixture(name="pulse")
def private_pulse(tmp_path: Path) -> Iterator[PrivatePulse]:
    missing = missing_part()
    if missing is not None:
        pytest.skip(missing)
    server = PrivatePulse(tmp_path)
    yield server
    server.close()
