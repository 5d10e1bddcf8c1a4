"""What several test folders share: the loaded network, which takes a second to load, is loaded once."""

import json
import subprocess
import sys
from dataclasses import dataclass
from typing import Any

import pytest

from tests.english import load
from voicelog.hearing.engines.moonshine import MoonshineEngine
from voicelog.hearing.engines.network import MoonshineModel
from voicelog.hearing.engines.sphinx import SphinxListener
from voicelog.hearing.engines.two import TwoListeners


@pytest.fixture(autouse=True)
def no_settings_of_this_machine(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Tests see neither the settings nor the records of whoever runs them."""
    place = tmp_path_factory.mktemp("own")
    monkeypatch.setenv("VOICELOG_SETTINGS", str(place / "settings.toml"))
    monkeypatch.setenv("VOICELOG_DATA", str(place / "data"))


@pytest.fixture(scope="session", name="model")
def _model() -> MoonshineModel:
    return MoonshineModel()


@pytest.fixture(scope="session", name="two_listeners")
def _two_listeners(engine: MoonshineEngine) -> TwoListeners:
    return TwoListeners(load(), engine, SphinxListener(load()))


@pytest.fixture(scope="session", name="engine")
def _engine(model: MoonshineModel) -> MoonshineEngine:
    return MoonshineEngine(load(), model)


@dataclass(frozen=True)
class DemoRun:
    """The demo through the real recogniser, in a process of its own: the exam that it printed, and its memory."""

    exam: dict[str, Any]
    peak_mb: float


@pytest.fixture(scope="session", name="demo_run")
def _demo_run() -> DemoRun:
    # Not `getrusage`: a new program begins with the highest memory of the one that started it, which is pytest.
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from voicelog.cli import main\n"
        "status = main(['demo', '--json'])\n"
        "print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0], file=sys.stderr)\n"
        "sys.exit(status)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return DemoRun(json.loads(done.stdout), int(done.stderr) / 1024)
