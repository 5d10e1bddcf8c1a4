"""The practice command as it is run from a shell."""

import io
import sys

import pytest

from tests.practice.running import Run
from voicelog.cli import main


@pytest.fixture(name="run")
def _run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    def run(*arguments: str, stdin: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin.encode())))
        try:
            status = main(["practice", *arguments])
        except SystemExit as stop:
            status = int(stop.code or 0)
        out, err = capsys.readouterr()
        return status, out, err

    return run
