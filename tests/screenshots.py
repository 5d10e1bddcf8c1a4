"""Makes the pictures of the page in docs/screens: `python -m tests.screenshots` (needs chromium)."""

import io
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from tests.corpora.demo_scenario import script
from tests.page.exams import demo_utterances, fill, keep_typed
from tests.page.served import Served, serve
from voicelog.page.desk import Sound
from voicelog.record.journal import Journal
from voicelog.settings import save_settings

SCREENS = Path(__file__).parent.parent / "docs" / "screens"
DEMO = tuple(line.text for line in script())
BEFORE_THE_END = DEMO[: DEMO.index("scratch that")]
SIZES = ((1024, 600), (1366, 768), (1920, 1080), (768, 1024), (390, 844))
FINDINGS = (
    *(
        "working distance sixty seven",
        "right eye",
        "acuity unaided six nine",
        "acuity left eye unaided six twelve",
    ),
    *("pupils distance sixty three", "vertex twelve", "streak ninety neutral at plus two and a quarter"),
    *("streak one eighty neutral at plus one and a half", "cyclopentolate one percent both eyes"),
    *("streak ninety neutral at plus three", "streak one eighty neutral at plus two", "next pass"),
    *(
        "streak ninety neutral at plus three",
        "streak one eighty neutral at plus two and a quarter",
        "left eye",
    ),
    *("streak ninety neutral at plus one", "streak one eighty neutral at plus three quarters"),
)
CONTRADICTION = (
    "streak vertical neutral at minus two and three quarters",
    "streak vertical neutral at plus half",
)


def main() -> int:
    """Serve what is shown, and picture it."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        print("chromium is not installed (Debian: apt-get install chromium)", file=sys.stderr)
        return 3
    SCREENS.mkdir(exist_ok=True)
    with sync_playwright() as playwright, own_folders():
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        with serve(live=False) as served:
            take(browser, served, "first-start", "/start", (1024, 1050))
        save_settings({"naming": "streak", "working_distance_cm": 67})
        live(browser)
        review(browser)
        browser.close()
    return 0


def live(browser: Browser) -> None:
    """The exam while it forms, asks, and contradicts: from afar in every size, and everything."""
    with serve(reference="4711-B") as served:
        served.say(*BEFORE_THE_END)
        for size in SIZES:
            take(browser, served, f"far-{size[0]}x{size[1]}", "/", size)
        served.sound = Sound(-24.0, in_speech=True)
        take(browser, served, "everything-1024x600", "/", (1024, 600), view="everything")
        take(browser, served, "everything-768x1024", "/", (768, 1024), view="everything")
        served.sound = Sound(-40.0)
        served.say("scratch that", "streak vertical neutral at two and three quarters")
        take(browser, served, "far-asked", "/", (1024, 600))
        served.say("no")
        served.say(*CONTRADICTION, source="typed")
        take(browser, served, "far-contradicts-red", "/", (1024, 600), theme="red")


def review(browser: Browser) -> None:
    """The kept exams."""
    with Journal.open() as journal:
        exam = fill(journal, demo_utterances())
        with_findings = keep_typed(journal, FINDINGS, reference="E 5").exam
    with serve(live=False) as served:
        take(browser, served, "review-list", "/review", (1024, 600), theme="light")
        take(browser, served, "review-exam", f"/review/{exam}", (1280, 900), theme="light", whole=True)
        take(browser, served, "review-tablet", f"/review/{exam}", (800, 1280), theme="dark")
        take(browser, served, "review-print", f"/review/{with_findings}/print", (820, 1160))
        take(browser, served, "settings", "/start", (1024, 600))


def take(
    browser: Browser,
    served: Served,
    name: str,
    path: str,
    size: tuple[int, int],
    *,
    theme: str = "dark",
    view: str = "far",
    whole: bool = False,
) -> None:
    """One picture."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    for kind in ("live", "review", "settings"):
        context.add_cookies([{"name": f"voicelog-theme-{kind}", "value": theme, "url": served.server.origin}])
    context.add_cookies([{"name": "voicelog-view", "value": view, "url": served.server.origin}])
    page = context.new_page()
    page.goto(served.server.address(path))
    page.wait_for_timeout(600)
    picture = Image.open(io.BytesIO(page.screenshot(full_page=whole)))
    # A page has few colours: as a palette it takes a third of the room.
    picture.convert("RGB").quantize(96, dither=Image.Dither.NONE).save(SCREENS / f"{name}.png", optimize=True)
    context.close()
    print(name)


@contextmanager
def own_folders() -> Iterator[None]:
    """Nothing of whoever makes the pictures is in them."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["VOICELOG_DATA"] = folder
        os.environ["VOICELOG_SETTINGS"] = str(Path(folder) / "settings.toml")
        yield


if __name__ == "__main__":
    sys.exit(main())
