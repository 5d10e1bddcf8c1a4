"""The review in a browser: the list, the timeline with its sound, putting right, attesting, downloads."""

import json
import re
from datetime import date, datetime, timedelta

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.page.exams import keep_typed
from tests.page.served import Served, wait_until
from tests.record.cases import EXAM
from voicelog.page.listed import Sought, exam_list
from voicelog.record.journal import Journal


def opened(context: BrowserContext, served: Served, path: str) -> Page:
    """A page of the review."""
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.goto(served.server.address(path))
    return page


def one(context: BrowserContext, served: Served) -> Page:
    """The dictated exam."""
    return opened(context, served, f"/review/{served.exam}")


def test_exams_with_open_points_come_first_and_lead_to_the_exam(
    context: BrowserContext, reviewed: Served
) -> None:
    page = opened(context, reviewed, "/review")

    captions = page.locator("caption").all_inner_texts()
    assert captions[0] == "With open points"
    days = page.locator("[data-day]").evaluate_all("all => all.map(one => one.dataset.day)")
    assert days == sorted(days, reverse=True)
    assert captions[1:] == [f"{day:%A} {day.day} {day:%B %Y}" for day in map(date.fromisoformat, days)]
    expect(page.locator("tr.unresolved")).to_contain_text("C 90")
    expect(page.locator("tr", has_text="B 4")).to_contain_text("signed off by MK")
    page.locator("tr", has_text="D 1").get_by_role("link").click()
    expect(page.locator("h1")).to_have_text(f"Exam {reviewed.exam}")


def test_a_reference_is_found(context: BrowserContext, reviewed: Served) -> None:
    page = opened(context, reviewed, "/review")
    page.get_by_label("Part of the reference").fill("a 17")
    page.get_by_role("button", name="Find").click()

    expect(page.locator("tbody tr")).to_have_count(1)
    expect(page.locator("tbody tr")).to_contain_text("A 17")


def test_the_timeline_says_what_was_said_and_what_became_of_it(
    context: BrowserContext, reviewed: Served
) -> None:
    page = one(context, reviewed)

    record = reviewed.server.page.journal.exam(reviewed.exam)
    entries = page.locator(".timeline .entry")
    expect(entries).to_have_count(len(record.events) - 1)
    expect(page.locator(".entry.corrected .said s")).to_have_text(
        "streak horizontal neutral at minus one point five"
    )
    expect(page.locator(".entry.corrected .entry-fate")).to_contain_text("now left eye: streak horizontal")
    expect(page.locator(".entry.withdrawn .entry-fate")).to_contain_text("taken out")
    expect(page.locator(".alternatives")).to_have_text(
        "close to: streak 129 with (54.6 times less likely)"  # e to the fourth power
    )


def test_a_clip_plays_to_its_end(context: BrowserContext, reviewed: Served) -> None:
    page = one(context, reviewed)
    play = page.locator("button.play").first
    sound = page.locator("audio").first
    expect(play.locator("path")).to_have_attribute("d", re.compile(r"^M0 \d"))

    play.click()
    wait_until(page, "document.querySelector('audio').ended")

    assert sound.evaluate("one => one.duration") == pytest.approx(1.0, abs=0.01)
    assert sound.evaluate("one => one.currentTime") == pytest.approx(1.0, abs=0.02)


def test_clips_of_other_exams_and_strangers_are_not_served(reviewed: Served) -> None:
    journal = reviewed.server.page.journal
    clip = next(iter(journal.exam(reviewed.exam).clips))
    other = next(each.id for each in journal.overviews() if each.id != reviewed.exam)

    assert reviewed.ask(f"/review/{reviewed.exam}/sounds/{clip}.flac").headers["content-type"] == "audio/flac"
    assert reviewed.ask(f"/review/{other}/sounds/{clip}.flac").status == 404
    assert reviewed.ask(f"/review/{reviewed.exam}/sounds/{'0' * 64}.flac").status == 404
    assert reviewed.ask(f"/review/{reviewed.exam}/sounds/..%2f..%2fvoicelog.db.flac").status in (404, 422)
    assert reviewed.ask(f"/review/{reviewed.exam}/sounds/{clip}.flac", token=None).status == 403
    journal.clips.path(reviewed.exam, clip).write_bytes(b"fLaC, and then something else")
    assert reviewed.ask(f"/review/{reviewed.exam}/sounds/{clip}.flac").status == 404
    assert "altered" in reviewed.ask(f"/review/{reviewed.exam}").body.decode()


def test_an_entry_is_amended_with_a_reason(context: BrowserContext, reviewed: Served) -> None:
    page = one(context, reviewed)
    entry = page.locator(".entry", has=page.locator(".said", has_text="minus two and three quarters"))
    number = entry.get_attribute("data-number")
    entry.locator("summary").click()
    expect(entry.get_by_label("It should be")).to_have_value(
        "streak vertical neutral at minus two and three quarters"
    )
    entry.get_by_label("It should be").fill("streak vertical neutral at minus three")
    entry.get_by_label("Reason").fill("the lens in the frame was -3.00")
    entry.get_by_label("initials").fill("MK")
    entry.get_by_role("button", name="Amend entry").click()

    amended = page.locator(f'.entry[data-number="{number}"]')
    expect(amended.locator(".said s")).to_have_text("streak vertical neutral at minus two and three quarters")
    expect(amended.locator(".entry-fate")).to_contain_text("(MK): the lens in the frame was −3.00")
    expect(page.locator('[data-result="left"]')).to_have_text("−2.75 −1.75 x 090")
    with Journal.open() as journal:
        assert str(journal.exam(reviewed.exam).written("left")) == "-2.75 -1.75 x 090"


def test_an_amendment_that_cannot_be_is_refused_in_words(context: BrowserContext, reviewed: Served) -> None:
    page = one(context, reviewed)
    entry = page.locator(".entry", has=page.locator("summary")).first
    entry.locator("summary").click()
    entry.get_by_label("It should be").fill("nonsense")
    entry.get_by_label("Reason").fill("x")
    entry.get_by_label("initials").fill("MK")
    entry.get_by_role("button", name="Amend entry").click()

    expect(entry.locator(".form-note")).to_contain_text("'nonsense' is not understood")


def test_an_empty_amendment_is_refused_and_taking_out_is_asked_and_taken_back(
    context: BrowserContext, reviewed: Served
) -> None:
    page = one(context, reviewed)
    entry = page.locator(".entry", has=page.locator(".said", has_text="minus two and three quarters"))
    number = entry.get_attribute("data-number")
    entry.locator("summary").click()
    expect(entry.get_by_label("It should be")).not_to_have_value("")
    entry.get_by_label("It should be").fill("")
    entry.get_by_label("Reason").fill("wrong eye")
    entry.get_by_label("initials").fill("MK")
    entry.get_by_role("button", name="Amend entry").click()
    assert entry.get_by_label("It should be").evaluate("one => one.validity.valueMissing")
    body = {"by": "MK", "reason": "x", "entry": number, "phrase": None}
    refused = reviewed.ask(f"/api/exams/{reviewed.exam}/amendments", "POST", body)
    assert (refused.status, refused.json()["error"][:23]) == (400, "say what it should be; ")

    entry.get_by_role("button", name="out …").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text(f"Take entry {number} out?")
    dialog.get_by_role("button", name="No").click()
    expect(dialog).to_have_count(0)
    assert reviewed.server.page.journal.exam(reviewed.exam).amendments == {}
    entry.get_by_role("button", name="out …").click()
    page.get_by_role("dialog").get_by_role("button", name="Take it out").click()
    expect(page.locator(f'.entry[data-number="{number}"] .said s')).to_be_visible()

    amendment = page.locator(".entry").last
    expect(amendment).to_contain_text(f"entry {number} amended by MK: taken out")
    amendment.locator("summary").click()
    amendment.get_by_label("Reason").fill("it was the right one")
    amendment.get_by_label("initials").fill("JD")
    amendment.get_by_role("button", name="back").click()
    expect(page.locator(".entry").last).to_contain_text(f"of entry {number} taken back by JD")
    expect(page.locator(f'.entry[data-number="{number}"] .said s')).to_have_count(0)


def test_an_entry_is_added_with_who_heard_it_and_who_added_it(
    context: BrowserContext, reviewed: Served
) -> None:
    page = opened(context, reviewed, f"/review/{reviewed.server.page.journal.find('A 17')}")
    expect(page.locator('[data-result="right"]')).to_have_count(1)
    before = page.locator(".entry").count()
    form = page.get_by_label("Add an entry")
    form.get_by_label("The entry").fill("streak thirty neutral at plus one")
    form.get_by_label("Heard by").fill("AB")
    form.get_by_label("Added by").fill("MK")
    form.get_by_label("Why").fill("not heard by the log")
    form.get_by_role("button").click()
    expect(form.locator(".form-note")).to_contain_text("eye")

    form.get_by_label("The entry").fill("right eye streak thirty neutral at plus one")
    form.get_by_role("button").click()
    expect(page.locator(".entry")).not_to_have_count(before)
    expect(page.locator(".entry .note").last).to_have_text(
        "heard by AB, added afterwards by MK: not heard by the log"
    )


def test_exams_are_found_by_day_and_by_open_points(context: BrowserContext, reviewed: Served) -> None:
    page = opened(context, reviewed, "/review")
    day = (datetime.now().astimezone() - timedelta(days=2)).date().isoformat()
    page.get_by_label("from day").fill(day)
    page.get_by_label("to day").fill(day)
    page.get_by_role("button", name="Find").click()
    expect(page.locator("tbody tr")).to_have_count(1)
    expect(page.locator("tbody tr")).to_contain_text("B 4")

    page.get_by_role("link", name="all exams").click()
    page.get_by_label("show").select_option("open")
    page.get_by_role("button", name="Find").click()
    expect(page.locator("tbody tr.unresolved")).not_to_have_count(0)
    expect(page.locator("tbody tr:not(.unresolved)")).to_have_count(0)

    page.goto(reviewed.server.origin + reviewed.base + "/review?since=yesterday")
    expect(page.get_by_role("alert")).to_have_text("from 'yesterday': write a day as 2026-03-31")
    assert [each["reference"] for each in reviewed.ask(f"/api/exams?since={day}&until={day}").json()] == [
        "B 4"
    ]


def test_an_empty_exam_is_discarded_after_a_question_and_no_other(
    context: BrowserContext, reviewed: Served
) -> None:
    journal = reviewed.server.page.journal
    empty = keep_typed(journal, (), reference="E 5").exam
    page = opened(context, reviewed, f"/review/{empty}")
    page.get_by_label("Your initials").last.fill("MK")
    page.get_by_role("button", name="Discard …").click()
    expect(page.get_by_role("dialog")).to_contain_text("Nothing was entered in it.")
    page.get_by_role("dialog").get_by_role("button", name="Discard").click()
    expect(page).to_have_url(re.compile("/review$"))
    expect(page.locator("tr", has_text="E 5")).to_have_count(0)
    assert not journal.has(empty)

    page.goto(reviewed.server.address(f"/review/{reviewed.exam}"))
    expect(page.get_by_role("button", name="Discard …")).to_have_count(0)
    refused = reviewed.ask(f"/api/exams/{reviewed.exam}/discarding", "POST", {"by": "MK"})
    assert (refused.status, journal.has(reviewed.exam)) == (400, True)


def test_a_long_list_has_pages_that_miss_none(reviewed: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    on_a_page = 10
    monkeypatch.setattr("voicelog.page.listed.ON_A_PAGE", on_a_page)
    journal = reviewed.server.page.journal
    for at in range(2 * on_a_page + 5):
        keep_typed(journal, EXAM, days_ago=10 + at, reference=f"P {at}")
    found, page = [], 1
    while True:
        listed = exam_list(journal, Sought(which="settled", page=page))
        found += [each.reference for day in listed.days for each in day.exams]
        assert bool(listed.newer) == (page > 1)
        if not listed.older:
            break
        page += 1
    assert page == 3
    assert [each for each in found if each.startswith("P")] == [f"P {at}" for at in range(2 * on_a_page + 5)]


def test_signing_off_says_what_it_seals_and_leaves_words_only(
    context: BrowserContext, reviewed: Served
) -> None:
    page = one(context, reviewed)
    page.locator("#attest-by").fill("MK")
    page.get_by_role("button", name="Sign off …").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("sealed for good")
    record = reviewed.server.page.journal.exam(reviewed.exam)
    for result in record.results:
        expect(dialog).to_contain_text(f"{result.eye} eye: {str(result.written).replace('-', '−')} (dry)")
    expect(dialog).to_contain_text(f"{len(record.state.ledger.live)} entries that count")
    dialog.get_by_role("button", name="No").click()
    assert reviewed.server.page.journal.exam(reviewed.exam).attested is None
    page.get_by_role("button", name="Sign off …").click()
    page.get_by_role("dialog").get_by_role("button", name="Sign off", exact=True).click()

    expect(page.locator(".banner.quiet")).to_contain_text("signed off by MK")
    expect(page.locator("summary")).to_have_count(0)
    page.locator("#text").fill("seen again in a year")
    page.locator("#add-by").fill("MK")
    page.get_by_role("button", name="Add words").click()
    expect(page.locator(".entry").last).to_contain_text("added by MK: seen again in a year")
    entry = reviewed.server.page.journal.exam(reviewed.exam).state.ledger.live[0].id
    refused = reviewed.ask(
        f"/api/exams/{reviewed.exam}/amendments",
        "POST",
        {"by": "MK", "reason": "x", "entry": entry, "take_out": True},
    )
    assert (refused.status, "attested by MK" in refused.json()["error"]) == (400, True)


def test_open_points_must_be_owned_to(reviewed: Served) -> None:
    journal = reviewed.server.page.journal
    exam = journal.find("C 90")

    refused = reviewed.ask(f"/api/exams/{exam}/attestations", "POST", {"by": "MK"})
    assert refused.status == 400
    assert refused.json()["error"].startswith("not attested, for there are open points")
    done = reviewed.ask(f"/api/exams/{exam}/attestations", "POST", {"by": "MK", "despite_open_points": True})
    assert done.status == 201


def test_an_exam_under_way_has_one_writer(reviewed: Served) -> None:
    from voicelog.page.desk import Desk

    reviewed.server.page.desk = Desk(
        reviewed.exam, reviewed.session.state, say=lambda phrase: None, sound=lambda: reviewed.sound
    )

    refused = reviewed.ask(f"/api/exams/{reviewed.exam}/addenda", "POST", {"by": "MK", "text": "x"})

    assert (refused.status, refused.json()["error"][:28]) == (400, "this exam is under way: put ")


@pytest.mark.parametrize(
    ("form", "start", "kind"),
    [
        ("fhir", b'{\n  "resourceType": "Bundle"', "application/fhir+json"),
        ("csv", b"", "text/csv; charset=utf-8"),
        ("json", b"{", "application/json"),
        ("report", b"%PDF-", "application/pdf"),
        ("note", b"REFERRAL NOTE\n", "text/plain; charset=utf-8"),
    ],
)
def test_every_export_is_downloaded(
    context: BrowserContext, reviewed: Served, form: str, start: bytes, kind: str
) -> None:
    page = one(context, reviewed)
    with page.expect_download() as waiting:
        page.locator(f'a[href$="/exports/{form}"]').click()
    content = waiting.value.path().read_bytes()

    answer = reviewed.ask(f"/api/exams/{reviewed.exam}/exports/{form}")
    assert content.startswith(start)
    assert len(content) > 200
    assert answer.headers["content-type"] == kind
    if form != "report":  # a PDF holds the time at which it was made
        assert answer.body == content
    assert waiting.value.suggested_filename.startswith(reviewed.exam)


def test_the_exam_as_data_is_the_same_as_by_the_command_line(
    reviewed: Served, capsys: pytest.CaptureFixture[str]
) -> None:
    from voicelog.cli import main

    main(["record", "list", "--json"])
    listed = json.loads(capsys.readouterr().out)

    found = reviewed.ask("/api/exams").json()
    assert [each["exam"] for each in found] == [each["id"] for each in listed]
    assert [each["right"]["result"] for each in found] == [each["right_result"] for each in listed]


def test_an_exam_that_is_not_there_is_said(context: BrowserContext, reviewed: Served) -> None:
    page = opened(context, reviewed, "/review/20200101-aaaaaaaa")

    expect(page.locator("h1")).to_have_text("Not there")
    assert reviewed.ask("/api/exams/20200101-aaaaaaaa/exports/csv").status == 404


def test_the_plots_say_in_words_what_they_show(context: BrowserContext, reviewed: Served) -> None:
    page = one(context, reviewed)

    label = page.locator(".plot svg").first.get_attribute("aria-label") or ""
    assert "with at 0.00 gross, net −1.50 along 035" in label
    assert "neutral at +2.25 gross, net +0.75 along 035" in label
    assert page.locator(".plot .sign").count() == 16  # eight readings, in two plots
    assert page.locator(".plot .curve").count() == 2


def test_the_print_view_stands_on_white(context: BrowserContext, reviewed: Served) -> None:
    page = opened(context, reviewed, f"/review/{reviewed.exam}/print")
    page.emulate_media(media="print")

    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    expect(page.locator(".noprint")).to_be_hidden()
    expect(page.locator('[data-result="right"]')).to_have_text("+0.75 −1.25 x 035")
    assert page.locator("script").count() == 0
