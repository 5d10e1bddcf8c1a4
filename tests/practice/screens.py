"""The picture of the practice page: python -m tests.practice.screens docs/screens (needs Debian's chromium)."""

import shutil
import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from voicelog.page.access import Binding
from voicelog.page.serving import PageServer
from voicelog.settings import Settings

LINES = ("right eye", "working distance 67", "streak vertical", "sphere +1.75", "streak 25")
SWEEP = 45
WINDOWS = {"practice": (1440, 900), "practice-small": (1024, 600)}


def lesson(page: Page, address: str) -> None:
    """A lesson half-way: the streak off the axis, the band turned towards it."""
    page.emulate_media(reduced_motion="reduce")
    page.goto(address)
    page.fill("#refraction", "+2.50 -1.75 x 100")
    page.click("#exercise button")
    page.wait_for_selector("#todo:not([hidden])")
    for number, line in enumerate(LINES, start=1):
        page.fill("#practice-line", line)
        page.press("#practice-line", "Enter")
        page.wait_for_selector(f"#turns > li:nth-child({number})")
    page.locator("#sweep").evaluate(
        "(slider, to) => { slider.value = to; slider.dispatchEvent(new Event('input')); }", SWEEP
    )


def main(folder: Path) -> None:
    """Write one PNG a window."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name, (width, height) in WINDOWS.items():
            with PageServer(Binding(), settings=Settings()) as server:
                page = browser.new_page(viewport={"width": width, "height": height})
                lesson(page, server.address("/practice"))
                page.screenshot(path=folder / f"{name}.png")
                page.close()
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
