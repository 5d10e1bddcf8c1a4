"""The live page in a browser: what it shows, how soon, and that nothing is lost on the way."""

import math
import re
import time
from itertools import pairwise

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.corpora.demo_scenario import TRUTH
from tests.page.served import Served
from voicelog.exam.entries import ReadingEntry
from voicelog.exam.events import Line
from voicelog.page.desk import Desk, Sound
from voicelog.session import Session

RIGHT = (
    "working distance sixty seven",
    "right eye",
    "streak one twenty five neutral with sphere plus two and a quarter",
    "streak thirty five neutral with cylinder minus one point two five axis thirty five",
)


def opened(context: BrowserContext, served: Served) -> Page:
    """The live page, connected; a script error or a refused request fails the test."""
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    served.everything(context)
    page.goto(served.server.address())
    expect(page.locator("#link-text")).to_have_text("connected")
    return page


def refraction(page: Page, eye: str) -> tuple[float, float, int]:
    """Sphere, cylinder and axis as they stand on the page."""
    text = page.locator(f'[data-result="{eye}"]').inner_text().replace("−", "-")
    found = re.fullmatch(r"([+-]\d+\.\d\d|plano) ([+-]\d+\.\d\d) x (\d{3})", text.strip())
    assert found, text
    return (0.0 if found[1] == "plano" else float(found[1])), float(found[2]), int(found[3])


def test_the_refraction_forms_as_values_land(context: BrowserContext, served: Served) -> None:
    page = opened(context, served)

    served.say(*RIGHT[:3])
    expect(page.locator("#eye-right .refraction")).to_have_text("not determined")
    expect(page.locator(".huge")).to_have_text("+2.25")
    expect(page.locator(".place-now")).to_have_text("streak 125 power along 035")
    served.say(RIGHT[3])

    expect(page.locator(".huge")).to_have_text("−1.25 x 035")
    truth = TRUTH["right"]
    assert refraction(page, "right") == (truth.sphere_d, truth.cylinder_d, truth.axis_deg)
    expect(page.locator("#eye-right .sure")).to_contain_text("±")
    rows = page.locator("#eye-right tbody tr")
    assert [row.split() for row in rows.all_inner_texts()] == [
        ["125", "035", "neutral", "+2.25", "+0.75"],
        ["035", "125", "neutral", "+1.00", "−0.50"],
    ]


def test_the_streak_and_the_sweep_are_drawn_at_their_true_angles(
    context: BrowserContext, served: Served
) -> None:
    """Streak at 125 leans to the left of upright, the sweep across it to the right (ISO 8429, as the examiner looks)."""
    page = opened(context, served)
    served.say(*RIGHT[:3])
    streak = page.locator("#eye-right .streak")
    expect(streak).to_have_count(1)
    angles = {}
    for name in ("streak", "sweep"):
        x1, y1, x2, y2 = map(
            float, re.findall(r"[\d.]+", page.locator(f"#eye-right path.{name}").get_attribute("d") or "")
        )
        angles[name] = math.degrees(math.atan2(y1 - y2, x2 - x1)) % 180

    assert angles == {"streak": pytest.approx(125, abs=0.3), "sweep": pytest.approx(35, abs=0.3)}


@pytest.mark.parametrize(
    ("said", "mark"),
    [
        (("right eye",), "entered"),
        (("right eye", "streak ninety neutral at three"), "asked"),
        (
            ("right eye", "streak ninety with at plus one", "streak ninety neutral at plus one half"),
            "contradicts",
        ),
    ],
)
def test_what_became_of_it_is_told_by_shape_place_and_words(
    context: BrowserContext, served: Served, said: tuple[str, ...], mark: str
) -> None:
    page = opened(context, served)
    served.say(*said, source="typed")

    lit = page.locator(".lamp.lit")
    expect(lit).to_have_count(1)
    expect(page.locator(".huge")).to_have_attribute("data-mark", mark)
    words = {"entered": "entered", "asked": "asked: answer", "contradicts": "contradicts"}
    expect(lit).to_have_text(words[mark])
    places = [page.locator(f".lamp.{each}").bounding_box() for each in words]
    assert [box["x"] for box in places if box] == sorted({box["x"] for box in places if box})
    shapes = {page.locator(f".lamp.{each} svg").inner_html() for each in words}
    assert len(shapes) == 3


def test_paused_is_plain_to_see(context: BrowserContext, served: Served) -> None:
    page = opened(context, served)
    served.say("stop listening")
    expect(page.locator(".waits.paused b")).to_have_text("paused")

    page.get_by_role("button", name="start listening").click()

    expect(page.locator(".waits b")).to_have_text("listening")


def test_the_rounds_orders_are_buttons_and_keys(context: BrowserContext, served: Served) -> None:
    """Each is entered as the line that would be said; F4 changes this browser's own view."""
    page = opened(context, served)
    told: list[str] = []
    served.session.on_order = told.append

    def said() -> str:
        return next(
            (each.text for each in reversed(served.session.state.events) if isinstance(each, Line)), ""
        )

    def comes(phrase: str) -> None:
        give_up_s = time.monotonic() + 10
        while said() != phrase and time.monotonic() < give_up_s:
            time.sleep(0.02)
        assert said() == phrase

    page.get_by_role("button", name="orders").press("Enter")
    page.get_by_role("button", name="louder F8").press("Enter")
    comes("louder")
    page.get_by_role("button", name="start from nothing").press("Enter")
    comes("start from nothing")
    served.sound = Sound(-40.0, silent=True)
    page.get_by_role("button", name="read back on Shift+F9").click()
    comes("read back on")
    page.keyboard.press("F4")
    expect(page.locator("body")).to_have_attribute("data-view", "far")
    for key, phrase in (("Shift+F8", "quieter"), ("F9", "stop listening"), ("Shift+F4", "discard this exam")):
        page.keyboard.press(key)
        comes(phrase)
    expect(page.locator(".far-question")).to_contain_text("discard the exam")
    served.say("no", source="page")
    page.keyboard.press("Shift+F2")
    comes("finish exam")
    give_up_s = time.monotonic() + 10
    while len(told) < 4 and time.monotonic() < give_up_s:  # an order is handed on behind its event
        time.sleep(0.02)

    assert told == ["louder", "read_back_on", "quieter", "finish"]


@pytest.mark.parametrize(("width", "height"), [(1024, 600), (768, 1024)])
def test_no_line_of_an_eye_lies_over_another_or_beyond_its_panel(
    context: BrowserContext, served: Served, width: int, height: int
) -> None:
    """Two neutral looks and one that bounds: the result's error stands above what all the looks say."""
    page = opened(context, served)
    page.set_viewport_size({"width": width, "height": height})
    served.say(*RIGHT, "streak thirty five with at plus one")
    lines = page.locator("#eye-right .refraction, #eye-right .sure p, #eye-right .meridians")
    expect(lines).to_have_count(4)
    boxes = [box for each in lines.all() if (box := each.bounding_box())]
    panel = page.locator("#eye-right").bounding_box()

    assert panel is not None
    for above, below in pairwise(sorted(boxes, key=lambda box: box["y"])):
        assert above["y"] + above["height"] <= below["y"] + 1
    assert all(box["x"] + box["width"] <= panel["x"] + panel["width"] + 1 for box in boxes)


def test_the_microphone_level_and_its_trouble_are_shown(context: BrowserContext, served: Served) -> None:
    page = opened(context, served)
    served.sound = Sound(-30.0, in_speech=True, notice="MICROPHONE LOST: unplugged")

    expect(page.locator("#trouble")).to_have_text("MICROPHONE LOST: unplugged")
    expect(page.locator("#level")).to_have_attribute("width", "50")
    expect(page.locator("#mic-words")).to_have_text("hears speech")


def test_a_correction_clicked_typed_and_spoken_agree(context: BrowserContext, served: Served) -> None:
    """The same slip put right three ways gives the same exam."""
    page = opened(context, served)
    found = []
    for way, streak in (("spoken", "one twenty five"), ("typed", "eighty"), ("clicked", "ten")):
        served.say(*RIGHT[:2], f"streak {streak} neutral at plus three", source="typed")
        before = served.session.state.events[-1].number
        if way == "spoken":
            served.say("correction plus two and a quarter")
        elif way == "typed":
            page.locator("#line").fill("correction plus two and a quarter")
            page.locator("#line").press("Enter")
        else:
            click_words(page, "correction plus two and a quarter")
        expect(page.locator(f'#rows [data-id="{before}"]')).to_have_class(re.compile("corrected"))
        last = served.session.state.events[-1]
        assert isinstance(last, Line)
        said = (
            last.meanings,
            [entry.lenses.words() for entry in last.entries if isinstance(entry, ReadingEntry)],
        )
        found.append((*said, served.session.state.eyes["right"].readings[-1].gross_d))

    assert found[0] == found[1] == found[2]
    assert [
        each.source
        for each in served.session.state.events
        if isinstance(each, Line) and each.text.startswith("correction")
    ] == [
        "voice",
        "page",
        "page",
    ]


def click_words(page: Page, phrase: str) -> None:
    """Build a phrase from the words that the page offers, and enter it."""
    page.get_by_role("button", name="more words").click()
    for word in phrase.split():
        page.locator("#word-list").get_by_role("button", name=word, exact=True).click()
        expect(page.locator("#line")).to_have_value(re.compile(rf"\b{re.escape(word)}$"))
    expect(page.locator("#words-note")).to_contain_text("a whole phrase")
    page.locator("#say button").click()
    expect(page.locator("#line")).to_have_value("")
    page.get_by_role("button", name="more words").click()


def test_the_keyboard_alone_does_everything(context: BrowserContext, served: Served) -> None:
    page = opened(context, served)

    page.keyboard.press("/")
    page.keyboard.type("right eye")
    page.keyboard.press("Enter")
    expect(page.locator(".eye-now")).to_have_text("right eye")
    reached = tab_through(page)
    for name in (
        "Review",
        "Settings",
        "Enter",
        "yes",
        "no",
        "scratch that",
        "left eye",
        "stop listening",
        "more words",
    ):
        assert name in reached
    page.get_by_role("button", name="left eye").focus()
    page.keyboard.press("Space")
    expect(page.locator(".eye-now")).to_have_text("left eye")

    page.get_by_role("button", name="more words").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#word-list button").first).to_be_visible()
    page.locator("#word-list").get_by_role("button", name="streak", exact=True).focus()
    page.keyboard.press("Enter")
    expect(page.locator("#line")).to_have_value("streak")
    assert page.evaluate("document.activeElement.closest('#word-list') !== null")
    page.keyboard.press("Escape")
    expect(page.locator("#words")).to_be_hidden()


def tab_through(page: Page) -> list[str]:
    """The names of what the tab key reaches, from the top, each with a visible focus."""
    page.reload()
    names = []
    for _ in range(25):
        page.keyboard.press("Tab")
        name, outline = page.evaluate(
            "[(document.activeElement.textContent || document.activeElement.id).trim(),"
            " getComputedStyle(document.activeElement).outlineStyle]"
        )
        if page.evaluate("document.activeElement === document.body"):
            break
        assert outline != "none", name
        names.append(name)
    return names


def test_reload_and_a_dropped_socket_lose_nothing(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    page.add_init_script("""{
        const Real = WebSocket;
        window.sockets = [];
        window.WebSocket = class extends Real { constructor(...all) { super(...all); window.sockets.push(this); } };
    }""")
    served.everything(context)
    page.goto(served.server.address())
    expect(page.locator("#link-text")).to_have_text("connected")
    served.say(*RIGHT[:2])
    expect(page.locator("#rows li")).to_have_count(2)

    page.evaluate("window.sockets.at(-1).close()")
    served.say(RIGHT[2])
    expect(page.locator("#rows li")).to_have_count(3)
    expect(page.locator("#link-text")).to_have_text("connected")
    assert page.evaluate("window.sockets.length") >= 2
    page.reload()
    served.say(RIGHT[3], "not minus one point two five minus one and a half")
    expect(page.locator("#rows li")).to_have_count(5)

    numbers = [int(row.get_attribute("data-number") or 0) for row in page.locator("#rows li").all()]
    assert numbers == [1, 2, 3, 4, 5]
    assert refraction(page, "right") == (0.75, -1.5, 35)
    assert "after=3" not in page.url


def test_a_lost_connection_is_shown_with_its_age(context: BrowserContext, served: Served) -> None:
    page = opened(context, served)
    served.server.close()

    expect(page.locator("#link-text")).to_have_text(re.compile(r"the exam has ended|NOT CONNECTED for \d+ s"))
    expect(page.locator("body")).to_have_class(re.compile("stale"))


def test_a_server_that_falls_silent_is_shown(context: BrowserContext, served: Served) -> None:
    """The socket stays open and nothing comes: only the age of the last word tells."""
    page = opened(context, served)
    entered = time.monotonic()

    def stuck() -> Sound:
        while time.monotonic() < entered + 3.6:
            time.sleep(0.05)
        return Sound(-40.0)

    assert served.desk is not None
    served.desk._sound = stuck

    expect(page.locator("#link-text")).to_have_text(re.compile(r"NOT CONNECTED for \d+ s"), timeout=6000)
    expect(page.locator("#link-text")).to_have_text("connected", timeout=12_000)


def test_words_that_somebody_types_are_shown_as_text(context: BrowserContext, served: Served) -> None:
    page = opened(context, served)
    served.say("<img src=x onerror=alert(1)><b>right</b>", source="page")

    expect(page.locator("#rows .said").last).to_have_text("<img src=x onerror=alert(1)><b>right</b>")
    assert page.locator("#rows img").count() == 0


def test_an_exam_that_has_ended_takes_nothing(context: BrowserContext, served: Served) -> None:
    page = opened(context, served)
    assert served.desk is not None
    served.desk.end()
    expect(page.locator("#link-text")).to_have_text("the exam has ended")

    page.locator("#line").fill("right eye")
    page.locator("#line").press("Enter")

    expect(page.locator("#say-note")).to_have_text("the exam has ended")


@pytest.mark.parametrize("ended_is_shown", [False, True])
def test_the_page_goes_over_to_the_exam_of_the_next_patient(
    context: BrowserContext, served: Served, ended_is_shown: bool
) -> None:
    page = context.new_page()
    page.goto(served.server.address())
    assert served.desk is not None
    if ended_is_shown:
        served.desk.end()
        expect(page.locator("#far-turn")).to_have_attribute("data-turn", "ended")
    session = Session()
    desk = Desk("the next", session.state, say=lambda _: None, sound=lambda: Sound(-40.0, view="everything"))
    session.listen(desk)
    served.server.page.desk = desk
    served.desk.end()

    expect(page.locator("#board[data-exam='the next']")).to_have_count(1)
    session.type_line("left eye")
    expect(page.locator("#rows")).to_contain_text("left eye")
    expect(page.locator("body")).to_have_attribute("data-view", "everything")
