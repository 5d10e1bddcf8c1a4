"""The first start: nothing is chosen for the examiner, and what is chosen is what is saved."""

import re
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.page.exams import demo_pieces
from tests.page.served import Served, serve
from voicelog.hearing.inputs import Input, Meters
from voicelog.hearing.microphone import MicrophoneState
from voicelog.hearing.sources import Block, FileSource, Source
from voicelog.page.level_check import LevelCheck
from voicelog.record.clips import flac
from voicelog.settings import load_settings, save_settings, settings_exist


def opened(context: BrowserContext, served: Served) -> Page:
    """What a browser sees first."""
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.goto(served.server.address())
    return page


def test_a_first_start_asks_and_assumes_nothing(context: BrowserContext) -> None:
    with serve(live=False) as served:
        page = opened(context, served)

        expect(page.locator("h1")).to_have_text("First start")
        assert page.locator("[name=naming]:checked, [name=distance_way]:checked").count() == 0
        page.get_by_role("button", name="Save").click()
        assert not settings_exist()

        page.get_by_text("“horizontal”").click()
        page.get_by_text("I know it").click()
        page.get_by_label("Distance, cm").fill("66,5")
        expect(page.locator("#distance-note")).to_have_text("66.5 cm: 1.50 D are taken off.")
        page.get_by_role("button", name="Save").click()
        expect(page).to_have_url(re.compile("/review$"))

        saved = load_settings()
        assert (saved.naming, saved.working_distance_cm) == ("meridian", 66.5)
        assert served.server.page.saved.is_set()


def test_the_distance_is_measured_three_times(context: BrowserContext) -> None:
    with serve(live=False) as served:
        page = opened(context, served)
        page.get_by_text("“vertical”").click()
        page.get_by_text("I measure it now").click()
        for n, text in enumerate(("60", "61", "68"), start=1):
            page.get_by_label(f"Measurement {n}").fill(text)
        expect(page.locator("#distance-note")).to_have_text(
            "The measurements are 8.0 cm apart: measure again."
        )
        page.get_by_role("button", name="Save").click()
        expect(page.locator("#settings .form-note")).to_have_text(
            "The measurements are 8.0 cm apart: measure again."
        )
        page.get_by_label("Measurement 3").fill("62")
        page.get_by_role("button", name="Save").click()
        expect(page).to_have_url(re.compile("/review$"))

    assert (load_settings().naming, load_settings().working_distance_cm) == ("streak", 61.0)


def test_a_distance_that_is_said_in_every_exam_is_not_invented(context: BrowserContext) -> None:
    with serve(live=False) as served:
        page = opened(context, served)
        page.get_by_text("“vertical”").click()
        page.get_by_text("I say it in every exam").click()
        page.get_by_role("button", name="Save").click()
        expect(page).to_have_url(re.compile("/review$"))

    assert load_settings().working_distance_cm is None


def test_the_microphone_is_checked_with_a_level(
    context: BrowserContext, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """The demo's first seconds at real pace in the place of a microphone."""
    path = tmp_path_factory.mktemp("sound") / "speech.flac"
    path.write_bytes(flac(np.concatenate([each.samples for each in demo_pieces()[:3]])))
    asked: list[str | None] = []

    def microphone(device: str | None) -> Source:
        asked.append(device)
        return FileSource(path, "real")

    asked_for: list[int] = []

    def hears(blocks: list[Block]) -> tuple[str | None, bool]:
        asked_for.append(sum(block.samples.size for block in blocks))
        return "streak vertical neutral at plus three", True

    with serve(live=False) as served:
        served.server.page.meters = meters()
        served.server.page.level_check = LevelCheck(microphone, seconds=2.0, hears=hears)
        page = opened(context, served)
        page.get_by_label("desk microphone").check()
        page.get_by_role("button", name="Listen for six seconds").click()

        expect(page.locator("#check-note")).to_have_text("listening: speak now")
        expect(page.locator("#level")).not_to_have_attribute("width", "0")
        expect(page.locator("#check-note")).to_have_text(
            re.compile(r"^good: your voice is \d+ dB.*understood: “streak vertical neutral at plus three”$"),
            timeout=12_000,
        )
    assert asked == ["desk microphone"]
    assert asked_for == [pytest.approx(2 * 16_000, abs=1024)]


class Tone:
    """A microphone that gives a steady sound until it is closed."""

    def __init__(self, amplitude: float) -> None:
        self.amplitude, self.closed = amplitude, threading.Event()

    def blocks(self) -> Iterator[Block]:
        samples = np.full(512, self.amplitude, np.float32)
        at = 0
        while not self.closed.wait(0.02):
            yield Block(samples, at, time.monotonic())
            at += 512

    def close(self) -> None:
        self.closed.set()


def meters(opened: list[Tone] | None = None, idle_s: float = 3.0) -> Meters:
    """Two microphones: the desk's gives a tenth of full scale, the other cannot be opened."""

    def open_one(name: str | None, told: Callable[[MicrophoneState, str], None]) -> Tone:
        tone = Tone(0.1)
        if name != "desk microphone":
            told(MicrophoneState.LOST, f"{name} cannot be opened: missing, or in use")
            tone.close()
        if opened is not None:
            opened.append(tone)
        return tone

    names = [Input("desk microphone", "ALSA", 1, True), Input("headset", "ALSA", 1, False)]
    return Meters(lambda: names, open_one, idle_s)


def test_the_microphone_is_chosen_from_a_list_with_levels(context: BrowserContext) -> None:
    opened_ones: list[Tone] = []
    with serve(live=False) as served:
        served.server.page.meters = meters(opened_ones, idle_s=0.6)
        page = opened(context, served)
        line = page.locator(".microphone", has_text="desk microphone (the system’s own now)")
        expect(line.locator(".decibels")).to_have_text("-20 dB")
        expect(line.locator(".level")).to_have_attribute("width", "67")
        other = page.locator(".microphone", has_text="headset")
        expect(other.locator(".decibels")).to_have_text("headset cannot be opened: missing, or in use")

        page.get_by_label("desk microphone").check()
        page.get_by_text("“vertical”").click()
        page.get_by_text("I say it in every exam").click()
        page.get_by_role("button", name="Save").click()
        expect(page).to_have_url(re.compile("/review$"))
        assert load_settings().microphone == "desk microphone"
        give_up_s = time.monotonic() + 10
        while not all(each.closed.is_set() for each in opened_ones) and time.monotonic() < give_up_s:
            time.sleep(0.02)
        assert all(each.closed.is_set() for each in opened_ones)  # nobody looks any more


def test_a_microphone_that_is_set_and_not_there_stays_chosen(context: BrowserContext) -> None:
    save_settings({"microphone": "gone"})
    with serve(live=False) as served:
        served.server.page.meters = meters()
        page = opened(context, served)
        page.goto(served.server.origin + served.base + "/start")
        expect(page.locator(".microphone")).to_have_count(4)
        expect(page.get_by_label("as set: “gone”")).to_be_checked()
        assert served.ask("/api/microphones").json()[0]["level_dbfs"] is None


@pytest.mark.parametrize(
    ("text", "as_asked", "told"),
    [
        ("streak ninety", False, "heard “streak ninety”, not the test phrase: say it once more"),
        (None, False, "the test phrase was not heard: say it once more"),
    ],
)
def test_a_test_phrase_that_was_not_understood_is_said(text: str | None, as_asked: bool, told: str) -> None:
    class Loud(Tone):
        def blocks(self) -> Iterator[Block]:
            for at, block in zip(range(40), super().blocks(), strict=False):
                yield replace(block, samples=block.samples * (1.0 if at > 20 else 0.001))

    check = LevelCheck(lambda device: Loud(0.1), seconds=1.0, hears=lambda blocks: (text, as_asked))
    check.start(None)
    give_up_s = time.monotonic() + 10
    while check.found.running and time.monotonic() < give_up_s:
        time.sleep(0.02)
    assert (check.found.heard, check.found.good) == (told, False)


def test_later_the_page_shows_what_is_set_and_keeps_the_rest(context: BrowserContext) -> None:
    save_settings({"naming": "meridian", "working_distance_cm": 50, "clip_days": 7})
    with serve(live=False) as served:
        page = opened(context, served)
        page.goto(served.server.origin + served.base + "/start")
        expect(page.locator("h1")).to_have_text("Settings")
        expect(page.locator("input[value=meridian]")).to_be_checked()
        expect(page.get_by_label("Distance, cm")).to_have_value("50")
        page.get_by_label("Read back").select_option("full")
        page.get_by_label("Colours of the page").select_option("red")
        page.get_by_role("button", name="Save").click()
        expect(page.locator("#settings .form-note")).to_have_text("saved")

    saved = load_settings()
    assert (saved.read_back, saved.theme, saved.clip_days, saved.naming) == ("full", "red", 7, "meridian")


def test_settings_that_cannot_be_are_refused(served: Served) -> None:
    for wrong in ({"working_distance_cm": 5}, {"naming": "both"}, {"volume": 2}, {"record_server": "x"}):
        assert served.ask("/api/settings", "PATCH", wrong).status == 422
    assert served.ask("/api/settings", "PATCH", body=b'{"volume": NaN}').status == 422
    assert "record_server" not in served.ask("/api/settings").json()


@pytest.mark.parametrize(
    ("sound", "verdict"),
    [
        ("nothing", "no sound comes from the microphone"),
        ("silence", "the microphone gives digital silence"),
        ("noise", "your voice is only"),
    ],
)
def test_what_is_wrong_with_the_microphone_is_said(
    tmp_path_factory: pytest.TempPathFactory, sound: str, verdict: str
) -> None:
    noise = np.random.default_rng(1).standard_normal(16_000 * 7).astype(np.float32) * 0.02
    samples = {"nothing": noise[:0], "silence": noise * 0, "noise": noise}[sound]

    class Short:
        def blocks(self) -> object:
            for at in range(0, samples.size, 512):
                yield Block(samples[at : at + 512], at, time.monotonic())

        def close(self) -> None:
            pass

    check = LevelCheck(lambda device: Short())  # type: ignore[arg-type, return-value]
    check.start(None)
    give_up_s = time.monotonic() + 10
    while check.found.running and time.monotonic() < give_up_s:
        time.sleep(0.02)

    assert check.found.verdict.startswith(verdict)
    assert not check.found.good
