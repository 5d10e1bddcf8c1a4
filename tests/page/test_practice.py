"""The practice page in a browser: the reflex moves as the eye's numbers say, and holds still where that is wished."""

import math
import re
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, ConsoleMessage, Page, expect

from tests.page.served import Served
from tests.practice.test_command import TWO_PHRASES, Script
from voicelog.cli import main, practice
from voicelog.page import practising
from voicelog.page.lessons import lesson_data, lesson_of
from voicelog.page.serving import PageServer

EYE = "+1.25 -1.75 x 90"
HEAD = ("right eye", "working distance 67")
# By hand: 67 cm is 1.4925 D; streak 90 examines 180: -0.50 + 1.49 = +1.00; streak 180: +1.25 + 1.49 = +2.75.
RIGHT = ("streak 90 neutral at +1.00", "streak 180 neutral at +2.75")


@pytest.fixture(name="page")
def _page(context: BrowserContext, served: Served) -> Iterator[Page]:
    """The page with an exercise set, and nothing wrong in its console."""
    faults: list[str] = []
    page = context.new_page()
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda message: faults.append(message.text) if is_fault(message) else None)
    page.emulate_media(reduced_motion="reduce")
    page.goto(served.server.address("/practice"))
    page.fill("#refraction", EYE)
    page.click("#exercise button")
    expect(page.locator("#setting")).to_contain_text("right eye")
    yield page
    assert faults == []


def is_fault(message: ConsoleMessage) -> bool:
    """Errors but for those of requests that a test means to be refused."""
    return message.type == "error" and "status of 4" not in message.text


def say(page: Page, *lines: str) -> None:
    """Type lines; each is answered before the next."""
    for line in lines:
        before = page.locator("#turns > li").count()
        page.fill("#practice-line", line)
        page.press("#practice-line", "Enter")
        expect(page.locator("#turns > li")).to_have_count(before + 1)


def sweep_to(page: Page, place: int) -> None:
    """Move the streak by hand."""
    page.locator("#sweep").evaluate(
        "(slider, to) => { slider.value = to; slider.dispatchEvent(new Event('input')); }", place
    )


def moved(page: Page, selector: str) -> tuple[float, float]:
    """Angle and offset of a drawn line."""
    found = re.fullmatch(
        r"rotate\((-?[\d.]+)\) translate\(0 (-?[\d.e+-]+)\)",
        page.locator(selector).get_attribute("transform") or "",
    )
    assert found is not None
    return -float(found[1]), float(found[2])


def wait_until_moved(page: Page) -> None:
    """Until the streak is elsewhere, however long a busy machine takes for the next frame."""
    now = page.locator("#streak").get_attribute("transform")
    page.wait_for_function(
        "before => document.querySelector('#streak').getAttribute('transform') !== before", arg=now
    )


def test_the_reflex_goes_with_the_streak_or_against_it_and_faster_near_neutral(page: Page) -> None:
    say(page, *HEAD, "streak vertical", "sphere -3.00")
    sweep_to(page, 50)
    far, streak = moved(page, "#band")[1], moved(page, "#streak")[1]
    say(page, "sphere +0.50")
    near = moved(page, "#band")[1]
    say(page, "sphere +3.00")
    against = moved(page, "#band")[1]

    assert 0 < far < streak < near
    assert against < 0


def test_the_drawing_has_the_numbers_of_the_eye(page: Page, served: Served) -> None:
    """The speed, the width and the direction of the band are those that the route gives."""
    say(page, *HEAD, "streak 75")
    sweep_to(page, 40)
    look = served.ask("/api/practice").json()["look"]
    angle, offset = moved(page, "#band")
    streak_angle, streak_offset = moved(page, "#streak")
    height = float(page.locator("#band rect").get_attribute("height") or 0)
    opacity = float(page.locator("#band").get_attribute("opacity") or 0)

    assert (angle, streak_angle) == (look["band"], 75)
    assert look["band"] != 75
    skew = math.cos(math.radians(look["band"] - 75))  # the offset counts along the band's own normal
    assert offset / streak_offset == pytest.approx(look["speed"] * skew, rel=1e-6)
    assert height == pytest.approx(look["width_mm"] * 27.5, rel=1e-6)
    assert opacity == pytest.approx(look["brightness"])


def test_who_wants_less_motion_gets_none_until_it_is_asked_for(page: Page) -> None:
    say(page, *HEAD, "streak vertical")
    first = moved(page, "#streak")
    page.wait_for_timeout(300)
    assert moved(page, "#streak") == first

    page.click("#motion")
    wait_until_moved(page)


def test_by_default_it_sweeps_and_can_be_held(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    page.emulate_media(reduced_motion="no-preference")
    page.goto(served.server.address("/practice"))
    page.click("#exercise button")
    expect(page.locator("#setting")).to_contain_text("Practice")
    say(page, "streak vertical")
    wait_until_moved(page)
    page.click("#motion")
    held = moved(page, "#streak")
    page.wait_for_timeout(200)
    assert moved(page, "#streak") == held


def test_a_whole_lesson_by_buttons_and_lines(page: Page, served: Served) -> None:
    say(page, *HEAD)
    page.click("button[data-line='streak vertical']")
    expect(page.locator("#seen")).to_contain_text("with motion")
    page.click("button[data-sphere='1']")
    expect(page.locator("#seen")).to_contain_text("no motion")
    page.click("button[data-turn='10']")
    expect(page.locator("#before")).to_contain_text("streak 100")
    assert served.ask("/api/practice").json()["result"] is None
    say(page, *RIGHT, "done")

    expect(page.locator("#comparison")).to_contain_text("logged +1.25 -1.75 x 090")
    expect(page.locator("#comparison")).to_contain_text("Right:")
    page.fill("#practice-line", "look")
    page.press("#practice-line", "Enter")
    expect(page.locator("#say-note")).to_contain_text("no lesson is under way")


def test_a_wrong_refraction_is_said(page: Page) -> None:
    page.click("#choice summary")
    page.fill("#refraction", "strong")
    page.click("#exercise button")

    expect(page.locator("#exercise-note")).to_contain_text("is no refraction")


def test_the_truth_is_not_told_before_the_end(served: Served) -> None:
    begun = served.ask("/api/practice", "POST", {"refraction": "+4.25 -2.75 x 33", "seed": 7})

    assert begun.status == 200
    assert b"4.25" not in begun.body
    assert served.ask("/api/practice/lines", "POST", {"line": "streak 20"}).json()["result"] is None
    ended = served.ask("/api/practice/lines", "POST", {"line": "done"}).json()
    assert ended["result"]["truth"]["sphere"] == 4.25
    assert served.ask("/api/practice/lines", "POST", {"line": "look"}).status == 409


@pytest.mark.parametrize(
    "wanted",
    [{"technique": "guess"}, {"tremor_d": -1}, {"refraction": "strong"}, {"seed": -1}, {"unknown": 1}],
)
def test_exercises_that_cannot_be_are_refused(served: Served, wanted: dict[str, object]) -> None:
    assert served.ask("/api/practice", "POST", wanted).status in (400, 422)


def test_no_serious_fault_of_access_and_nothing_wider_than_the_window(page: Page) -> None:
    say(page, *HEAD, "streak vertical", "sphere +1", "done")
    for theme in ("dark", "red", "light"):
        page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
        found = Axe().run(page).response["violations"]
        assert [
            (each["id"], each["nodes"][0]["html"][:120])
            for each in found
            if each["impact"] in ("serious", "critical")
        ] == [], theme
    for width, height in ((1024, 600), (1920, 1080), (800, 1280), (390, 800)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_lesson_by_voice_is_served_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The page reads the lesson that the microphone (here: a recording) feeds; Ctrl-C ends it."""
    asked: list[dict[str, object]] = []
    started: list[PageServer] = []

    def served_at(server: PageServer, path: str = "/", *, browser: bool = True) -> None:
        started.append(server)

    def interrupted() -> None:
        asked.append(lesson_data(lesson_of(started[0].page)))
        raise KeyboardInterrupt

    monkeypatch.setattr(PageServer, "open", served_at)
    monkeypatch.setattr(practising, "_stay", interrupted)
    monkeypatch.setattr(practice, "chosen_engine", lambda *_: Script("right eye", "streak vertical"))

    status = main(["practice", "--page", "--no-open", "--voice", "--source", str(TWO_PHRASES), "--seed", "3"])

    assert status == 130
    assert [turn["text"] for turn in asked[0]["turns"]] == ["right eye", "streak vertical"]  # type: ignore[attr-defined]
    assert "the page stays until Ctrl-C" in capsys.readouterr().err
