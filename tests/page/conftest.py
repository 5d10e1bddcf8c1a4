"""A served page, a browser (Debian's chromium without a window, a quarter cheaper to run; chromium serves too), and a way to ask the page without one."""

import asyncio
import shutil
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
import uvicorn.server
from playwright.sync_api import Browser, BrowserContext, sync_playwright

from tests.page.exams import fill
from tests.page.served import Served, serve
from voicelog.record.journal import Journal
from voicelog.record.places import data_folder
from voicelog.settings import save_settings

CHROMIUM = shutil.which("chromium-headless-shell") or shutil.which("chromium")


@pytest.fixture(scope="session", autouse=True)
def _a_server_sees_its_end_at_once() -> Iterator[None]:
    """uvicorn looks ten times a second whether it is to end, and as often whether all have gone: 0.25 s for each test."""

    async def shorter(seconds: float) -> None:
        await asyncio.sleep(seconds / _SHORTER)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(uvicorn.server, "asyncio", SimpleNamespace(**vars(asyncio) | {"sleep": shorter}))
        yield


_SHORTER = 5


@pytest.fixture(name="served")
def _served() -> Iterator[Served]:
    """An exam that is typed, on its page; nothing is kept."""
    save_settings({"naming": "streak"})
    with serve() as served:
        yield served


@pytest.fixture(scope="session", name="small_record")
def _small_record(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A folder with a small record, to be copied, and the name of the dictated exam in it."""
    folder = tmp_path_factory.mktemp("record") / "data"
    with Journal.open(folder) as journal:
        exam = fill(journal)
    return folder, exam


@pytest.fixture(name="reviewed")
def _reviewed(small_record: tuple[Path, str]) -> Iterator[Served]:
    """A small record on the page; `served.exam` names the dictated exam in it."""
    save_settings({"naming": "streak"})
    folder, exam = small_record
    shutil.copytree(folder, data_folder())
    with serve(live=False) as served:
        served.exam = exam
        yield served


@pytest.fixture(scope="session", name="browser")
def _browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("no browser is installed (Debian: apt-get install chromium-headless-shell)")
    with sync_playwright() as playwright:
        # In a container there is no room for its sandbox; the pages it opens here are our own.
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        yield browser
        browser.close()


@pytest.fixture(name="context")
def _context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 1024, "height": 600})
    yield context
    context.close()
