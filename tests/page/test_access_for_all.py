"""Every page in every theme: no accessibility fault of any weight (axe-core), values at 7:1 contrast, small and quick."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from tests.page.served import Served, wait_until
from tests.page.test_live import RIGHT
from voicelog.page.desk import Desk

THEMES = ("dark", "red", "light")
VALUES = (
    ".huge, .eye-now b, .place-now b, .refraction span, .meridians td, .cross .power, .said, .value, .answer, "
    ".far b, .far-turn span, .far-word, .far-place, .far-value, .far-told, .far-question, .far-lens, .far-reference"
)
PAGES = (
    "/",
    "/review",
    "/review/EXAM",
    "/review/EXAM/print",
    "/audit",
    "/start",
    "/practice",
    "/practice/progress",
)


@pytest.fixture(name="whole")
def _whole(reviewed: Served) -> Served:
    """The record and an exam under way together."""
    desk = Desk("test exam", reviewed.session.state, say=lambda phrase: None, sound=lambda: reviewed.sound)
    reviewed.session.listen(desk)
    reviewed.server.page.desk = desk
    reviewed.say(*RIGHT, "streak ninety neutral at three", source="typed")
    return reviewed


def pages(context: BrowserContext, served: Served, theme: str) -> Iterator[tuple[str, Page]]:
    """Every page in one theme."""
    page = context.new_page()
    context.add_cookies([{"name": "voicelog-theme-live", "value": theme, "url": served.server.origin}])
    page.goto(served.server.address())
    yield "far view", page
    served.everything(context)
    for kind in ("live", "review", "settings"):
        context.add_cookies([{"name": f"voicelog-theme-{kind}", "value": theme, "url": served.server.origin}])
    for path in PAGES:
        page.goto(served.server.origin + served.base + path.replace("EXAM", served.exam))
        yield path, page


@pytest.mark.parametrize("theme", THEMES)
def test_no_fault_and_values_stand_out(context: BrowserContext, whole: Served, theme: str) -> None:
    for path, page in pages(context, whole, theme):
        assert faults(page) == [], (path, theme)
        shown = contrasts(page)
        assert shown or path in ("/audit", "/start", "/practice", "/practice/progress")
        assert [each for each in shown if each[1] < 7.0] == [], (path, theme)


@pytest.mark.parametrize("width", [390, 1024])
def test_no_page_runs_out_of_the_window(context: BrowserContext, whole: Served, width: int) -> None:
    """Nobody has to scroll sideways, and no panel of the review is wider than its edge."""
    for path, page in pages(context, whole, "dark"):
        page.set_viewport_size({"width": width, "height": 844})
        found = page.evaluate(
            """() => [document.documentElement.scrollWidth,
            ...[...document.querySelectorAll('.review .panel')].map(each => each.scrollWidth - each.clientWidth)]"""
        )
        assert found[0] <= width, path
        assert all(over <= 1 for over in found[1:]), path


def faults(page: Page) -> list[tuple[str, str]]:
    """What axe finds by all of its rules, those of best practice too: rule and first place."""
    return [(each["id"], each["nodes"][0]["html"][:120]) for each in Axe().run(page).response["violations"]]


def test_what_opens_later_has_no_fault(context: BrowserContext, whole: Served) -> None:
    """The orders, amending, taking back, and the question before what cannot be undone."""
    page = context.new_page()
    whole.everything(context)
    page.goto(whole.server.address())
    page.get_by_role("button", name="orders").click()
    assert faults(page) == []
    page.goto(whole.server.origin + whole.base + f"/review/{whole.exam}")
    for summary in page.locator("summary").all():
        summary.click()
    assert faults(page) == []
    page.locator("#attest-by").fill("MK")
    page.get_by_role("button", name="Sign off …").click()
    expect(page.get_by_role("dialog")).to_be_visible()
    assert faults(page) == []
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    page.goto(whole.server.origin + whole.base + "/review?which=open&reference=nobody")
    assert faults(page) == []


def contrasts(page: Page) -> list[tuple[str, float]]:
    """Text and contrast of each value that is shown, by WCAG 2.1's definition of contrast ratio."""
    found = page.evaluate(
        """selector => [...document.querySelectorAll(selector)]
            .filter(one => one.getClientRects().length && one.textContent.trim() && !one.closest('.left-out, .corrected, .withdrawn'))
            .map(one => {
                const colour = getComputedStyle(one)[one instanceof SVGElement ? 'fill' : 'color'];
                let ground = 'rgba(0, 0, 0, 0)';
                for (let at = one; at && ground === 'rgba(0, 0, 0, 0)'; at = at.parentElement)
                    ground = getComputedStyle(at).backgroundColor;
                return [one.textContent, colour, ground];
            })""",
        VALUES,
    )
    return [(text, ratio(colour, ground)) for text, colour, ground in found]


def ratio(colour: str, ground: str) -> float:
    """WCAG 2.1, "contrast ratio" and "relative luminance" (w3.org/TR/WCAG21)."""
    first, second = sorted((luminance(colour), luminance(ground)), reverse=True)
    return (first + 0.05) / (second + 0.05)


def luminance(colour: str) -> float:
    parts = [float(part) / 255 for part in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    linear = [each / 12.92 if each <= 0.03928 else ((each + 0.055) / 1.055) ** 2.4 for each in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_contrast_formula_gives_its_published_ends() -> None:
    """Black on white is 21:1 by definition; #767676 on white is the well-known last grey above 4.5:1."""
    assert ratio("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21.0)
    assert ratio("rgb(118, 118, 118)", "rgb(255, 255, 255)") == pytest.approx(4.54, abs=0.01)


def test_the_red_theme_holds_hardly_anything_but_red(context: BrowserContext, whole: Served) -> None:
    page = context.new_page()
    context.add_cookies([{"name": "voicelog-theme-live", "value": "red", "url": whole.server.origin}])
    page.goto(whole.server.address())
    page.get_by_role("button", name="Show everything").click()
    colours = page.evaluate(
        """() => { const found = new Set();
            for (const one of document.querySelectorAll('body, body *'))
                for (const name of ['color', 'backgroundColor', 'fill', 'stroke', 'borderTopColor'])
                    found.add(getComputedStyle(one)[name]);
            return [...found]; }"""
    )

    for colour in colours:
        if colour.startswith("rgb(") or (colour.startswith("rgba(") and not colour.endswith(", 0)")):
            red, green, blue = (float(part) for part in colour[colour.index("(") + 1 : -1].split(",")[:3])
            assert green <= red / 2, colour
            assert blue <= red / 2, colour


@pytest.mark.parametrize(("width", "height"), [(1024, 600), (1920, 1080), (800, 1280)])
def test_the_live_page_fits_the_window(
    context: BrowserContext, whole: Served, width: int, height: int
) -> None:
    page = context.new_page()
    page.set_viewport_size({"width": width, "height": height})
    whole.everything(context)
    page.goto(whole.server.address())
    expect(page.locator("#link-text")).to_have_text("connected")

    assert page.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]") == [
        width,
        height,
    ]
    for part in (
        "#now",
        "#last",
        "#eye-right .refraction",
        "#eye-left .refraction",
        "#rows",
        "#line",
        ".quick",
    ):
        box = page.locator(part).bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["y"] >= 0
        assert box["x"] + box["width"] <= width + 1
        assert box["y"] + box["height"] <= height + 1
    assert (
        page.evaluate(
            "[...document.querySelectorAll('.huge, .refraction, .sure')].filter(one => one.scrollWidth > one.clientWidth + 1).length"
        )
        == 0
    )


@pytest.mark.parametrize("scale", [100, 200])
def test_the_text_grows(context: BrowserContext, whole: Served, scale: int) -> None:
    page = context.new_page()
    page.goto(whole.server.address("/review"))
    before = page.evaluate("parseFloat(getComputedStyle(document.querySelector('td')).fontSize)")
    while page.evaluate("document.documentElement.dataset.scale") != str(scale):
        page.get_by_role("button", name="Larger text").click()
    page.reload()

    after = page.evaluate("parseFloat(getComputedStyle(document.querySelector('td')).fontSize)")
    assert after == pytest.approx(before * scale / 100)


def test_first_paint_within_a_second_and_a_page_below_200_kb(context: BrowserContext, whole: Served) -> None:
    page = context.new_page()
    page.goto(whole.server.address())
    for path in PAGES:
        page.goto(whole.server.origin + whole.base + path.replace("EXAM", whole.exam))
        wait_until(page, "performance.getEntriesByName('first-contentful-paint').length > 0")
        paint_ms = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
        size = page.evaluate(
            "[...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]"
            ".reduce((sum, one) => sum + one.decodedBodySize, 0)"
        )
        foreign = page.evaluate(
            "performance.getEntriesByType('resource').map(one => one.name).filter(name => !name.startsWith(location.origin))"
        )
        assert paint_ms < 1000, path
        assert 5_000 < size < 200_000, path
        assert foreign == []
