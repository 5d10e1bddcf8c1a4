"""The practice page in a browser: the reflex moves as the eye's numbers say, and holds still where that is wished."""

import io
from collections.abc import Iterator

import numpy as np
import pytest
import soundfile
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Route, expect

from tests.page.served import Served
from tests.practice.test_command import TWO_PHRASES, Script
from tests.practice.test_progress import lesson
from voicelog.cli import main, practice
from voicelog.errors import MissingPartError
from voicelog.page import practising, watching
from voicelog.page.lessons import lesson_data, lesson_of
from voicelog.page.serving import PageServer
from voicelog.page.watching import show_of
from voicelog.practice.frames import Drawing
from voicelog.practice.light import CENTRE_MM2, Aberration, PupilLight
from voicelog.practice.progress import keep, progress_path
from voicelog.speaking.voice import SpokenText, SystemVoice

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


def bright(page: Page) -> dict[str, float]:
    """Mean red of the left and right half of the pupil's middle line, and where the streak is drawn."""
    found: dict[str, float] = page.evaluate(
        """() => {
          const eye = document.querySelector("#eye");
          const row = eye.getContext("2d").getImageData(0, eye.height / 2, eye.width, 1).data;
          const mean = (from, to) => {
            let sum = 0;
            for (let at = from; at < to; at++) sum += row[4 * at];
            return sum / (to - from);
          };
          const middle = eye.width / 2;
          return { left: mean(middle - 60, middle - 20), right: mean(middle + 20, middle + 60), beam: Number(eye.dataset.beam) };
        }"""
    )
    return found


def beam(page: Page) -> str:
    """Where the streak is drawn, millimetres from the middle."""
    return page.locator("#eye").get_attribute("data-beam") or ""


def wait_until_moved(page: Page) -> None:
    """Until the streak is elsewhere, however long a busy machine takes for the next frame."""
    page.wait_for_function("before => document.querySelector('#eye').dataset.beam !== before", arg=beam(page))


def test_the_reflex_goes_with_the_streak_or_against_it(page: Page) -> None:
    """Streak to the right, lens by lens: lit on the right, lit all over at neutral, lit on the left, dark again."""
    say(page, *HEAD, "streak vertical", "sphere -3.00")
    sweep_to(page, 50)
    with_ = bright(page)
    say(page, "sphere +3.00")
    against = bright(page)
    sweep_to(page, 0)
    say(page, "sphere +1.00")
    neutral = bright(page)
    sweep_to(page, 100)
    gone = bright(page)

    assert with_["beam"] == against["beam"] == 6.0
    assert with_["right"] > 100 > 30 > with_["left"]
    assert against["left"] > 100 > 40 > against["right"]
    assert min(neutral["left"], neutral["right"]) > 230
    assert max(gone["left"], gone["right"]) < 30


def test_the_page_draws_what_the_pictures_of_the_optics_show(page: Page, served: Served) -> None:
    """The canvas against `Drawing` of the numbers that the route gives, all pixels: 3 of 255 levels on the average."""
    say(page, *HEAD, "streak 75")
    sweep_to(page, 40)
    look = served.ask("/api/practice").json()["look"]
    (given,) = look["light"]
    size = int(page.evaluate("document.querySelector('#eye').width"))
    drawn = page.evaluate(
        """() => {
          const eye = document.querySelector("#eye");
          return Array.from(eye.getContext("2d").getImageData(0, 0, eye.width, eye.height).data);
        }"""
    )
    canvas = np.array(drawn, float).reshape(size, size, 4)[..., :3]
    light = PupilLight(
        given["streak"],
        given["pupil_mm"],
        given["along"],
        given["torsion"],
        Aberration(given["spherical"], given["coma"]),
        given["travel"],
        given["start"],
        given["step"],
        tuple(given["profile"]),
        given["veil"],
    )
    expected = Drawing(light, size).at(float(beam(page))).astype(float)
    rows, columns = np.indices((size, size)) - (size - 1) / 2.0
    inside = np.hypot(rows, columns) < size / 2.0 - 36.0  # the scale of angles stands at the rim

    assert given["centre_mm2"] == CENTRE_MM2
    assert abs(given["torsion"]) > 0.1
    assert float(np.abs(canvas - expected)[inside].mean()) < 3.0


def test_the_words_wait_until_they_are_asked_for(page: Page) -> None:
    say(page, *HEAD, "streak vertical")
    expect(page.locator("#seen")).to_contain_text("What do you see?")
    expect(page.locator("#turns")).not_to_contain_text("motion")
    page.click("button[data-line='tell me']")
    expect(page.locator("#seen")).to_contain_text("with motion")
    say(page, "sphere +3.00")
    expect(page.locator("#seen")).to_contain_text("What do you see?")
    page.check("#always")
    expect(page.locator("#seen")).to_contain_text("against motion")


def test_a_child_looks_at_the_light_and_back(page: Page, served: Served) -> None:
    begun = served.ask(
        "/api/practice", "POST", {"refraction": "+3.00", "seed": 7, "child": True, "age_years": 6}
    )
    assert begun.status == 200
    look = served.ask("/api/practice/lines", "POST", {"line": "streak vertical"}).json()["look"]
    errors = [light["along"] for light in look["light"]]
    pupils = [light["pupil_mm"] for light in look["light"]]

    assert look["motion"] == "with"
    assert errors == sorted(errors, reverse=True)
    assert errors[-1] == pytest.approx(0.37, abs=0.01)
    assert pupils == sorted(pupils, reverse=True)
    shares = page.evaluate(
        """async near => {
          const { nearShare } = await import(`${document.documentElement.dataset.base}/static/practice-eye.js`);
          return [0, 4.9, 5.1, 7.9, 8.1, 12.9].map((second) => nearShare(near, second * 1000));
        }""",
        look["near"],
    )
    assert shares == pytest.approx([0.0, 0.0, 0.25, 1.0, 0.75, 0.0], abs=0.01)


def test_who_wants_less_motion_gets_none_until_it_is_asked_for(page: Page) -> None:
    say(page, *HEAD, "streak vertical")
    first = beam(page)
    page.wait_for_timeout(300)
    assert beam(page) == first

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
    held = beam(page)
    page.wait_for_timeout(200)
    assert beam(page) == held


def test_a_whole_lesson_by_buttons_and_lines(page: Page, served: Served) -> None:
    say(page, *HEAD)
    page.check("#always")
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


def test_lines_said_in_haste_reach_the_lesson_in_their_order(page: Page) -> None:
    """The first is held back on its way; the second was sent past it, and its note was lost."""
    held: list[Route] = []
    page.route("**/api/practice/lines", lambda route: route.continue_() if held else held.append(route))
    for line in ("streak vertical", "done", "look"):
        page.fill("#practice-line", line)
        page.press("#practice-line", "Enter")
    held[0].continue_()

    expect(page.locator("#say-note")).to_contain_text("no lesson is under way")
    expect(page.locator("#turns .said")).to_have_text(["streak vertical", "done"])


def test_the_first_mistake_is_shown_again(page: Page) -> None:
    """Neutral logged on an against reflex; then the next streak, so that another look stands before the learner."""
    say(
        page, *HEAD, "streak vertical", "sphere +3.00", "streak vertical neutral", "streak horizontal", "done"
    )
    expect(page.locator("#comparison")).to_contain_text("moved against")
    page.click("#comparison button")

    expect(page.locator("#seen")).to_contain_text("against motion")
    expect(page.locator("#before")).to_contain_text("streak 090 · lenses: +3.00")
    sweep_to(page, 50)
    assert bright(page)["left"] > 100 > bright(page)["right"]


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


def test_the_end_shows_what_each_look_ruled_out(page: Page) -> None:
    """A bar a meridian and look: it holds the truth, and gets no wider but for what a look made doubtful."""
    say(page, *HEAD, "streak vertical", "sphere +1", "streak horizontal", "done")
    rows = page.locator("#ruled-out tr")
    expect(rows).to_have_count(4)
    for row in range(1, 4):
        for meridian in range(2):
            bar = rows.nth(row).locator("svg").nth(meridian)
            left, width = (
                float(bar.locator(".left").get_attribute(name) or "nan") for name in ("x", "width")
            )
            truth = float(bar.locator(".truth").get_attribute("x1") or "nan")
            assert left <= truth <= left + width
    expect(page.locator("#ruled-out p").first).to_contain_text("of what the most telling ones would have")


def test_a_kind_is_set_and_says_what_eye_it_is(page: Page, served: Served) -> None:
    page.click("#choice summary")
    page.select_option("#kind", "oblique")
    for name in ("reflex", "patient", "refraction"):
        expect(page.locator(f"#{name}")).to_be_disabled()
    page.click("#exercise button")
    expect(page.locator("#setting")).to_contain_text("oblique axes. Goal: 14 lenses")

    for wanted in (
        {"kind": "easy"},
        {"kind": "high", "child": True},
        {"kind": "high", "refraction": "+1.00"},
    ):
        assert served.ask("/api/practice", "POST", wanted).status == 400
    first = served.ask("/api/practice", "POST", {"kind": "next", "seed": 1}).json()
    assert "spheres alone" in first["setting"][-1]


def test_progress_is_plotted_with_a_table_beside(context: BrowserContext, served: Served) -> None:
    page = context.new_page()
    page.goto(served.server.address("/practice"))
    served.ask("/api/practice", "POST", {"kind": "spheres", "seed": 1})
    for line in ("right eye", "streak vertical", "done"):
        assert served.ask("/api/practice/lines", "POST", {"line": line}).status == 200
    for number in range(4):
        keep(lesson(number))
    page.click("text=Your progress")

    expect(page.locator("h1")).to_have_text("Your progress")
    expect(page.locator("figure.plot")).to_have_count(3)
    expect(page.locator("figure.plot").first.locator(".sign")).to_have_count(4)
    expect(page.locator("tbody tr")).to_have_count(5)
    expect(page.locator("main")).to_contain_text("Next: ")
    for theme in ("dark", "red", "light"):
        page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
        found = Axe().run(page).response["violations"]
        assert [each["id"] for each in found if each["impact"] in ("serious", "critical")] == [], theme
    for width, height in ((1920, 1080), (390, 800)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_store_that_cannot_be_read_is_told_on_the_page(served: Served) -> None:
    assert b"No lesson was kept yet" in served.ask("/practice/progress").body
    progress_path().mkdir(parents=True)

    answer = served.ask("/practice/progress")
    assert answer.status == 200
    assert b"it is a folder" in answer.body


def test_the_examiner_is_watched_scene_by_scene(page: Page, served: Served) -> None:
    """By hand: each look is drawn and told, each line is written with what the log made of it; then the comparison."""
    page.click("#choice summary")
    page.fill("#refraction", EYE)
    page.click("#watch")
    expect(page.locator("#seen")).to_contain_text("press Play")
    told = served.ask("/api/practice/watch").json()["scenes"]
    looks = [each["look"] for each in told if "look" in each]
    lines = [each for each in told if "line" in each]
    shown = set()
    for scene in told:
        page.click("#watch-next")
        if "look" in scene:
            expect(page.locator("#seen")).to_have_text(scene["look"]["seen"])
            shown.add(page.locator("#seen").inner_text())
    page.click("#watch-next")

    assert len(looks) > 15
    assert [each["line"] for each in lines] == list(range(len(lines)))
    assert any("with motion" in each for each in shown)
    assert any("against motion" in each or "no motion" in each for each in shown)
    expect(page.locator("#turns > li")).to_have_count(len(lines))
    expect(page.locator("#turns > li").last).to_contain_text("log: entered: right eye: streak")
    expect(page.locator("#comparison")).to_contain_text("Right:")
    expect(page.locator("#watch-next")).to_be_disabled()
    page.click("#watch-stop")
    expect(page.locator("#setting")).to_contain_text("Practice")
    expect(page.locator("#player")).to_be_hidden()


def test_watched_by_itself_the_streak_moves_and_the_lines_are_spoken(
    context: BrowserContext, served: Served
) -> None:
    """Played: the voice is fetched line by line, and the streak sweeps; without a voice the words go on alone."""
    page = context.new_page()
    page.emulate_media(reduced_motion="no-preference")
    asked: list[str] = []

    def silent(route: Route) -> None:
        asked.append(route.request.url)
        route.abort()

    page.route("**/practice/watch/*.wav", silent)
    page.goto(served.server.address("/practice"))
    page.clock.install()
    page.click("#watch")
    page.click("#watch-play")
    expect(page.locator("#watch-play")).to_have_text("Pause")
    page.clock.run_for(4000)
    expect(page.locator("#seen")).to_contain_text("motion")
    lines = [each for each in served.ask("/api/practice/watch").json()["scenes"] if "line" in each]
    page.clock.run_for(2000)
    first = beam(page)
    page.clock.run_for(300)
    assert beam(page) != first
    for _ in range(100):
        page.clock.fast_forward(4000)
        if page.locator("#watch-next").is_disabled():
            break
        page.wait_for_timeout(5)

    expect(page.locator("#turns > li")).to_have_count(len(lines))
    assert [url.rsplit("/", 1)[1] for url in asked] == [f"{number}.wav" for number in range(len(lines))]


class Voice:
    """A voice that says how often it was asked, and speaks a tenth of a second a letter."""

    begun = 0

    def __init__(self) -> None:
        Voice.begun += 1

    def speak(self, text: str) -> SpokenText:
        return SpokenText(np.full(800 * len(text), 0.1, np.float32), 8000)

    def close(self) -> None:
        """Nothing to let go of."""


def test_each_line_has_its_sound(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watching, "SystemVoice", Voice)
    assert served.ask("/practice/watch/0.wav").status == 404
    scenes = served.ask("/api/practice/watch", "POST", {"seed": 45}).json()["scenes"]
    lines = [each["text"] for each in scenes if "line" in each]
    for number, text in enumerate(lines):
        answer = served.ask(f"/practice/watch/{number}.wav")
        sound, rate_hz = soundfile.read(io.BytesIO(answer.body))
        assert (answer.headers["content-type"], rate_hz, len(sound)) == ("audio/wav", 8000, 800 * len(text))

    assert lines[:2] == ["i name the streak", "right eye"]
    assert Voice.begun == 1
    assert served.ask(f"/practice/watch/{len(lines)}.wav").status == 404
    assert served.ask("/practice/watch/-1.wav").status == 404


def test_no_voice_is_told(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> SystemVoice:
        raise MissingPartError("no voice is here")

    monkeypatch.setattr(watching, "SystemVoice", none)
    assert served.ask("/api/practice/watch", "POST", {"seed": 45}).status == 200
    answer = served.ask("/practice/watch/0.wav")
    assert (answer.status, b"no voice is here" in answer.body) == (404, True)


@pytest.mark.parametrize("wanted", [{"mirror": "concave"}, {"off_axis_deg": 10}])
def test_what_the_examiner_cannot_do_is_not_watched(served: Served, wanted: dict[str, object]) -> None:
    assert served.ask("/api/practice/watch", "POST", wanted).status == 400


def test_watch_on_the_page_from_the_command_line(monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[tuple[str, ...]] = []
    started: list[PageServer] = []

    def interrupted() -> None:
        show = show_of(started[0].page)
        assert show is not None
        assert lesson_of(started[0].page) is None
        found.append(show.lines)
        raise KeyboardInterrupt

    monkeypatch.setattr(PageServer, "open", lambda server, path="/", *, browser=True: started.append(server))
    monkeypatch.setattr(practising, "_stay", interrupted)
    assert main(["practice", "--watch", "--page", "--no-open", "--seed", "45"]) == 130

    assert [(lines[0], len(lines)) for lines in found] == [("i name the streak", 5)]
