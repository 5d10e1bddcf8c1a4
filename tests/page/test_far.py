"""The far view in a browser: letters that can be read from two metres, nothing cut, three pictures of what became of it."""

import math
import re
import time
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.page.far_cases import BEGUN, BOTH, CASES, LONGEST
from tests.page.served import Served, wait_until
from voicelog.exam.state import ExamState
from voicelog.page.desk import Desk, Sound
from voicelog.session import Session
from voicelog.settings import Settings

LEAST_ARC_MINUTES = 15.0
DISTANCE_MM = 2000.0
SIZES = [(1024, 600), (1366, 768), (1920, 1080), (768, 1024), (390, 844)]
TEXTS = (
    "#far-hand b, #far-turn-text, .far-word, .far-place, .far-value, .far-told, .far-question b, .far-letter [aria-hidden],"
    " .far-lens, .far-wet, .far-reference"
)
# One `cap` is the height of the capitals of the font that is really used, in its real size.
CAP_HEIGHTS = """selector => [...document.querySelectorAll(selector)]
    .filter(one => one.getClientRects().length && one.textContent.trim())
    .map(one => {
        const rule = document.createElement('span');
        rule.style.cssText = 'position: absolute; width: 1px; height: 1cap';
        one.append(rule);
        const high = rule.getBoundingClientRect().height;
        rule.remove();
        return [one.textContent.trim(), high];
    })"""
# Every letter that is not hidden: is it within the window, and within each box around it that cuts?
OUTSIDE = """() => {
    const found = [];
    const walk = document.createTreeWalker(document.querySelector('#far'), NodeFilter.SHOW_TEXT);
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
        const own = node.parentElement;
        if (!node.data.trim() || own.closest('.vh, [hidden]') || !own.getClientRects().length) continue;
        const range = document.createRange();
        range.selectNodeContents(node);
        for (const box of range.getClientRects()) {
            // Of a line's box the letters fill 0.93 of the font's size above the line and 0.24 below it; spaces may hang over.
            const inside = (room) => box.left >= room.left - 1 && box.right <= room.right + 1 + box.height / 3
                && box.top >= room.top - box.height * .12 && box.bottom <= room.bottom + box.height * .12;
            const rooms = [{ left: 0, top: 0, right: innerWidth, bottom: innerHeight }];
            for (let at = own; at.id !== 'far'; at = at.parentElement)
                if (getComputedStyle(at).overflow !== 'visible') rooms.push(at.getBoundingClientRect());
            if (!rooms.every(inside)) found.push(node.data.trim());
        }
    }
    return found;
}"""
# A line's box reaches above its letters: the highest of them leave a seventh of it free.
OVERLAPS = """() => {
    const lines = [];
    for (const one of document.querySelectorAll('#far-hand, #far-turn, .far-word, .far-place, .far-value, .far-told,'
        + ' .far-question, .far-eye, .far-reference')) {
        const walk = document.createTreeWalker(one, NodeFilter.SHOW_TEXT), boxes = [];
        const range = document.createRange();
        while (walk.nextNode()) if (walk.currentNode.data.trim() && !walk.currentNode.parentElement.closest('.vh')) {
            range.selectNodeContents(walk.currentNode);
            boxes.push(...range.getClientRects());
        }
        for (const box of boxes) if (box.width > 2)
            lines.push({ name: one.className || one.id, one, left: box.left + 1, right: box.right - 1,
                top: box.top + box.height / 7, bottom: box.bottom - 1 });
    }
    const found = [];
    for (const a of lines) for (const b of lines)
        if (a.one !== b.one && a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom)
            found.push(a.name + ' / ' + b.name);
    return found;
}"""


def state_of(*lines: str, reference: str = "") -> ExamState:
    """The exam after typed lines."""
    session = Session(Settings(), reference=reference)
    for line in lines:
        session.type_line(line)
    return session.state


def show(served: Served, page: Page, state: ExamState) -> None:
    """The page of an exam that stands so."""
    served.server.page.desk = Desk("typed", state, say=lambda phrase: None, sound=lambda: served.sound)
    is_let_in = page.url != "about:blank"
    page.goto(f"{served.server.origin}{served.base}/" if is_let_in else served.server.address())
    wait_until(page, "document.querySelector('#far-last').dataset.size !== undefined")


def arc_minutes(high_px: float, size: tuple[int, int], diagonal_in: float = 10.0) -> float:
    """The angle of something `high_px` CSS pixels high on such a screen, seen from two metres."""
    mm = high_px * diagonal_in * 25.4 / math.hypot(*size)
    return math.degrees(math.atan(mm / DISTANCE_MM)) * 60


def test_the_angle_is_that_of_the_letters_of_a_chart() -> None:
    """A 6/6 letter is 8.7 mm high at six metres: five minutes of arc by definition (ISO 8596); here 15 at two."""
    pixel_mm = 254.0 / math.hypot(1024, 600)

    assert arc_minutes(8.727 / pixel_mm, (1024, 600)) == pytest.approx(15.0, abs=0.01)
    assert 6000 * math.tan(math.radians(5 / 60)) == pytest.approx(
        2000 * math.tan(math.radians(15 / 60)), rel=1e-4
    )


def test_there_are_52_phrases_of_every_kind() -> None:
    assert len(CASES) == 52
    assert {picture for _, _, picture in CASES} == {"entered", "asked", "contradicts", "answer"}


def test_letters_are_15_minutes_high_and_none_is_cut(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    for before, said, picture in CASES:
        show(served, page, state_of(*before, said, reference="4711-B"))

        expect(page.locator("[data-picture]")).to_have_attribute("data-picture", picture)
        high: list[Any] = page.evaluate(CAP_HEIGHTS, TEXTS)
        small = [
            (text, arc_minutes(px, (1024, 600))) for text, px in high if arc_minutes(px, (1024, 600)) < 15.0
        ]
        assert small == [], said
        shown = {text for text, _ in high}
        assert {"R", "L", "Reference 4711-B"} <= shown
        assert shown & {"listening", "asked", "paused"}
        assert_nothing_is_cut(page, SIZES[0], said)
        assert page.locator(".far-told .clause[hidden]").count() == 0, said


@pytest.mark.parametrize("size", SIZES[1:])
def test_at_every_other_size_nothing_is_cut(
    context: BrowserContext, served: Served, size: tuple[int, int]
) -> None:
    page = context.new_page()
    page.set_viewport_size({"width": size[0], "height": size[1]})
    for before, said, _ in CASES[::3]:
        show(served, page, state_of(*before, said, reference="4711-B"))

        assert_nothing_is_cut(page, size, said)


def assert_nothing_is_cut(page: Page, size: tuple[int, int], said: str) -> None:
    assert settled(page, OUTSIDE) == [], said
    assert settled(page, OVERLAPS) == [], said
    assert page.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]") == [
        *size
    ]


def settled(page: Page, found: str) -> list[str]:
    """What is found on the page once it has fitted its texts, which it does after they are drawn; at most 3 s later."""
    ends = time.monotonic() + 3.0
    while (faults := list(page.evaluate(found))) and time.monotonic() < ends:
        page.wait_for_timeout(50)
    return faults


def test_the_capitals_are_as_high_in_the_picture_as_in_the_font(
    context: BrowserContext, served: Served
) -> None:
    """The L of the left eye, counted in pixels: what the font says of itself is what is drawn."""
    import io

    import numpy as np
    from PIL import Image

    page = context.new_page()
    show(served, page, state_of("right eye"))
    # The picture is of the whole page: the letter's element itself may be drawn anew at any moment.
    box = page.evaluate("document.querySelectorAll('.far-letter')[1].getBoundingClientRect().toJSON()")
    whole = Image.open(io.BytesIO(page.screenshot())).convert("L")
    grey = np.asarray(whole.crop((box["left"], box["top"], box["right"], box["bottom"])), dtype=float)
    rows = np.flatnonzero((np.abs(grey - np.median(grey)) > 60).any(axis=1))
    ((_, px),) = page.evaluate(CAP_HEIGHTS, ".far-eye:nth-of-type(2) .far-letter [aria-hidden]")

    assert rows[-1] - rows[0] + 1 == pytest.approx(px, abs=1.5)
    assert arc_minutes(float(rows[-1] - rows[0] + 1), (1024, 600)) >= LEAST_ARC_MINUTES


def test_what_does_not_fit_is_left_out_in_whole_and_counted(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    state = state_of(*BOTH, *LONGEST[5:], "read back everything")
    show(served, page, state)

    told = page.locator(".far-told .clause")
    hidden = page.locator(".far-told .clause[hidden]").count()
    assert page.evaluate(OUTSIDE) == []
    assert hidden == 0 or re.search(rf"and {hidden} more$", page.locator(".far-told").inner_text())
    assert told.count() > hidden


def test_three_things_that_can_become_of_it_are_three_pictures(
    context: BrowserContext, served: Served
) -> None:
    """Told apart without any colour: by the word, by the outline of the mark, and by what is drawn round it."""
    page = context.new_page()
    drawn = {}
    for picture in ("entered", "asked", "contradicts"):
        before, said = next((before, said) for before, said, shown in CASES if shown == picture and before)
        show(served, page, state_of(*before, said))
        mark = page.locator(".far-said .mark")
        drawn[picture] = (
            mark.locator("*").first.evaluate("one => one.outerHTML"),
            page.locator(".far-word").inner_text(),
            mark.locator("*").first.evaluate("one => getComputedStyle(one).fill === 'none'"),
        )

    assert len({shape for shape, _, _ in drawn.values()}) == 3
    assert [word for _, word, _ in drawn.values()] == ["entered", "asked", "contradicts"]
    assert [outlined for _, _, outlined in drawn.values()] == [True, True, False]


def test_the_far_view_is_what_one_sees_first_and_escape_leads_on(
    context: BrowserContext, served: Served
) -> None:
    page = context.new_page()
    page.goto(served.server.address())
    expect(page.locator("#far")).to_be_visible()
    expect(page.locator("#board")).to_be_hidden()

    page.keyboard.press("Escape")
    expect(page.locator("#board")).to_be_visible()
    page.reload()
    expect(page.locator("#board")).to_be_visible()
    page.get_by_role("button", name="Far view").click()
    expect(page.locator("#far")).to_be_visible()
    page.get_by_role("button", name="Show everything").press("Enter")
    expect(page.locator("#board")).to_be_visible()
    page.keyboard.press("Escape")
    page.keyboard.press("/")
    expect(page.locator("#line")).to_be_focused()


def test_it_follows_what_is_said(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    page.goto(served.server.address())
    served.say(*BEGUN, "streak ninety neutral at plus two and a quarter")

    expect(page.locator(".far-value")).to_have_text("+2.25")
    expect(page.locator(".far-place")).to_have_text("streak 090")
    expect(page.locator("#far-hand")).to_contain_text("right eye")
    expect(page.locator('[data-far-result="right"] .far-lens')).to_have_text("+0.75 along 180")
    served.say("streak one eighty neutral at one and a half")
    expect(page.locator(".far-question b")).to_have_text("1.50: plus or minus?")
    served.say("plus")
    expect(page.locator('[data-far-result="right"] .far-lens')).to_have_text("+0.75 −0.75 x 180")
    expect(page.locator(".far-question")).to_have_count(0)


def test_a_question_stays_in_sight_while_others_are_entered(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    page.goto(served.server.address())
    served.say(*BEGUN, "streak one eighty neutral at one and a half", "streak ninety neutral at plus three")

    expect(page.locator("[data-picture]")).to_have_attribute("data-picture", "entered")
    expect(page.locator(".far-value")).to_have_text("+3.00")
    expect(page.locator(".far-question b")).to_have_text("1.50: plus or minus?")


def test_a_lost_connection_is_the_state_that_is_shown(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    page.goto(served.server.address())
    expect(page.locator("#far-turn-text")).to_have_text("listening")
    served.server.close()

    expect(page.locator("#far-turn-text")).to_have_text(re.compile("ended|not connected"))
    expect(page.locator("#far-turn")).to_have_class(re.compile("deaf"))


NOTICES = (
    "no sound: the microphone is not there",
    "HELD: left eye (the disk is full: make room)",
)


@pytest.mark.parametrize("size", SIZES)
def test_a_notice_leaves_all_else_in_sight(
    context: BrowserContext, served: Served, size: tuple[int, int]
) -> None:
    """What is wrong stands there as large as all else, and neither it nor anything else is cut."""
    page = context.new_page()
    page.set_viewport_size({"width": size[0], "height": size[1]})
    for notice in NOTICES:
        served.sound = Sound(-40.0, notice=notice)
        for before, said, _ in (CASES[0], CASES[8], CASES[11], CASES[18]):
            show(served, page, state_of(*before, said, reference="4711-B"))
            expect(page.locator("#trouble")).to_have_text(notice)
            wait_until(page, "document.querySelector('#far-last').dataset.size !== undefined")

            assert page.evaluate(OUTSIDE) == [], (notice, said)
            assert page.evaluate(OVERLAPS) == [], (notice, said)
            box = page.locator("#trouble").bounding_box()
            last = page.locator("#far-last").bounding_box()
            assert box is not None
            assert last is not None
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= last["y"] + 1
            assert box["x"] + box["width"] <= size[0]
            if size == SIZES[0]:
                high: list[Any] = page.evaluate(CAP_HEIGHTS, f"#trouble, {TEXTS}")
                assert [each for each in high if arc_minutes(each[1], size) < LEAST_ARC_MINUTES] == []
