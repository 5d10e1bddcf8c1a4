"""What several test folders share: the loaded networks, which take a second to load, are loaded once."""

import gc
import itertools
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.english import load
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.engines.network import MoonshineModel
from voicelog.hearing.engines.protocol import Engine
from voicelog.live import garbage
from voicelog.settings import Settings


@pytest.fixture(scope="session", name="own_places")
def _own_places(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A new folder for each test. Numbered ones of pytest's look through all that there are, thousands in the end."""
    within = tmp_path_factory.mktemp("own")
    return (within / str(number) for number in itertools.count())


@pytest.fixture(autouse=True)
def no_settings_of_this_machine(monkeypatch: pytest.MonkeyPatch, own_places: Iterator[Path]) -> None:
    """Tests see neither the settings nor the records of whoever runs them."""
    place = next(own_places)
    place.mkdir()
    monkeypatch.setenv("VOICELOG_SETTINGS", str(place / "settings.toml"))
    monkeypatch.setenv("VOICELOG_DATA", str(place / "data"))


@pytest.fixture(scope="session", name="model")
def _model() -> MoonshineModel:
    return MoonshineModel()


@pytest.fixture(scope="session", name="engine")
def _engine() -> Engine:
    """What listens where no setting says otherwise."""
    return chosen_engine(Settings(), load())


_SELDOM = 100
"""Instead of 10: so often what is new is looked through for garbage before all is."""


@pytest.fixture(scope="module", autouse=True)
def what_stays_is_not_looked_through_again() -> None:
    """Before each file all garbage goes, and what is left then is looked through no more: the networks stay.

    Python looks through all that it holds again and again, which with the networks in memory took half of the time.
    """
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session", autouse=True)
def an_exam_leaves_alone_what_stays() -> Iterator[None]:
    """A live exam puts aside what is there at its start, and at its end takes back all, what the run put aside too.

    After each file with an exam in this process, all was looked through again, for two seconds. tests/live/test_garbage.py
    has the exam do it.
    """
    looks = SimpleNamespace(
        **{name: getattr(gc, name) for name in _LOOKS}, freeze=_nothing, unfreeze=_nothing
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(garbage, "gc", looks)
        yield


_LOOKS = ("collect", "get_count", "get_threshold", "set_threshold")


def _nothing() -> None:
    pass


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Nobody looks for garbage while the files are read: of what is made then nearly all stays."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.set_threshold(*gc.get_threshold()[:2], _SELDOM)


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """Programs that tests start share what Python compiled, even where it is told to write none beside the sources.

    Without that each of them compiles the whole tool anew, for nearly a second; there are dozens. The processes of the
    run itself have loaded theirs by now.
    """
    told = getattr(config, "workerinput", {}).get("bytecode")
    if told is not None:
        _compile_into(told)
    elif sys.dont_write_bytecode:
        folder = tempfile.mkdtemp(prefix="vl-compiled-")
        config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
        config.stash[_BYTECODE] = folder
        if config.getoption("numprocesses", None) is None:
            _compile_into(folder)


_BYTECODE = pytest.StashKey[str]()


def _compile_into(folder: str) -> None:
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = folder


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """The folder is told to each process of the run: in their own environment it would hold up their start."""
    node.workerinput["bytecode"] = node.config.stash.get(_BYTECODE, None)


_SHARED = ("demo_run", "database_url", "browser", "engine")
"""Fixtures that take long to make: in a run of several processes all that use one of them go to the same process."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files stay whole in a run of several processes, so that no module's fixtures are made twice.

    First of all: the plugin that spreads the tests reads the marks in this same hook.
    """
    for item in items:
        used = getattr(item, "fixturenames", ())
        file = item.nodeid.partition("::")[0]
        group = next((name for name in _SHARED if name in used), file)
        item.add_marker(pytest.mark.xdist_group(group))


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
