"""Amendments hold entries by their ids: what follows an amended entry, and what "scratch that" makes of it later."""

from collections.abc import Sequence

import pytest

from tests.english import load
from voicelog.errors import VoicelogError
from voicelog.exam.entries import ReadingEntry
from voicelog.exam.events import Line
from voicelog.exam.exchange import respond
from voicelog.phrases.grammar import LINE_RULE
from voicelog.phrases.lines import TYPED, LineReader
from voicelog.record.acts import amendment
from voicelog.record.corrections import fates
from voicelog.record.events import Amended
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal
from voicelog.session import Session
from voicelog.settings import Settings

from .cases import MORNING, NOON, dictated

GRAMMAR = load()
EYES = (
    "working distance 50",
    "right eye",
    "streak horizontal neutral with sphere plus three",
    "streak vertical neutral with cylinder minus one axis 90",
    "left eye",
    "streak horizontal neutral at plus one",
)


def amend(store: ExamStore, entry: str, phrase: str | None) -> Amended:
    """One amendment, appended."""
    assert store.record is not None
    event = amendment(
        store.record, NOON, by="AB", reason="misread", entry=entry, phrase=phrase, grammar=GRAMMAR
    )
    store.append(event)
    return event


def going_on(store: ExamStore, lines: Sequence[str]) -> None:
    """The exam goes on after it was amended."""
    assert store.record is not None
    session = Session(Settings(), grammar=GRAMMAR, store=store, resumed=store.record.state, now=lambda: NOON)
    for line in lines:
        assert session.type_line(line).outcome == "accepted", line


def looks(record: ExamRecord) -> dict[str, tuple[str, int, float, float | None]]:
    """Eye, meridian, gross power and distance of every reading that counts, by its id."""
    return {
        row.id: (
            row.entry.eye,
            row.entry.meridian_deg,
            row.entry.gross_d,
            row.entry.allowance.distance_cm,
        )
        for row in record.state.ledger.live
        if isinstance(row.entry, ReadingEntry)
    }


BEFORE = {"3": ("right", 90, 3.0, 50), "4": ("right", 180, 2.0, 50), "6": ("left", 90, 1.0, 50)}


@pytest.mark.parametrize(
    ("entry", "phrase", "now"),
    [
        ("6", "neutral at plus two", {"6": ("left", 90, 2.0, 50)}),
        ("6", "streak vertical neutral at plus two", {"6": ("left", 180, 2.0, 50)}),
        # The sphere stayed behind the cylinder: one lens.
        ("3", "neutral with sphere plus four", {"3": ("right", 90, 4.0, 50), "4": ("right", 180, 3.0, 50)}),
        ("4", "neutral with cylinder minus two", {"4": ("right", 180, 1.0, 50)}),
        (
            "1",
            "working distance 67",
            {"3": ("right", 90, 3.0, 67), "4": ("right", 180, 2.0, 67), "6": ("left", 90, 1.0, 67)},
        ),
        ("5", "right eye", {"6": ("right", 90, 1.0, 50)}),
        ("2", "left eye", {"3": ("left", 90, 3.0, 50), "4": ("left", 180, 2.0, 50)}),
    ],
)
def test_what_follows_an_amended_entry(
    journal: Journal, entry: str, phrase: str, now: dict[str, tuple[str, int, float, float | None]]
) -> None:
    store, _ = dictated(journal, EYES, at=MORNING)
    assert store.record is not None
    assert looks(store.record) == BEFORE

    event = amend(store, entry, phrase)

    assert looks(store.record) == BEFORE | now
    assert event.entry == entry
    assert {change.id for change in event.changes} == {entry, *now}
    assert journal.exam(store.exam) == store.record


def test_a_mirror_is_amended_with_the_readings_taken_with_it(journal: Journal) -> None:
    lines = (
        "mirror concave",
        "streak vertical neutral at plus two",
        "mirror plane",
        "streak 45 with at plus one",
    )
    store, _ = dictated(journal, (*EYES, *lines), at=MORNING)
    assert store.record is not None

    amend(store, "7", "mirror plane")

    mirrors = {
        row.id: row.entry.mirror
        for row in store.record.state.ledger.live
        if isinstance(row.entry, ReadingEntry)
    }
    assert set(mirrors.values()) == {"plane"}
    assert set(mirrors) == {"3", "4", "6", "8", "10"}


def test_a_working_lens_is_amended_with_the_readings_taken_through_it(journal: Journal) -> None:
    lines = (
        "working lens in",
        "streak vertical neutral at plus two",
        "working lens out",
        "streak 45 with at plus one",
    )
    store, _ = dictated(journal, (*EYES, *lines), at=MORNING)
    assert store.record is not None

    amend(store, "7", "working lens out")

    lens_in = {
        row.id: row.entry.allowance.lens_in
        for row in store.record.state.ledger.live
        if isinstance(row.entry, ReadingEntry)
    }
    assert not any(lens_in.values())
    assert looks(store.record)["8"][3] == 50


def test_taking_out_takes_nothing_with_it(journal: Journal) -> None:
    store, _ = dictated(journal, EYES, at=MORNING)
    assert store.record is not None

    event = amend(store, "3", None)

    assert event.value is None
    assert looks(store.record) == {name: look for name, look in BEFORE.items() if name != "3"}


@pytest.mark.parametrize(
    ("before", "entry", "phrase", "after", "now"),
    [
        # The act that is taken back had put the amended entry there, corrected it, or is another one.
        (("correction plus two",), "6", "neutral at plus five", ("scratch that",), 5.0),
        (("correction plus two", "scratch that"), "6", "neutral at plus five", (), 5.0),
        (("correction plus two",), "6", "neutral at plus five", ("scratch that", "scratch that"), None),
        ((), "6", None, ("scratch that",), None),
        (("correction plus two",), "6", None, ("scratch that",), None),
    ],
)
def test_what_was_amended_does_not_come_back(
    journal: Journal,
    before: Sequence[str],
    entry: str,
    phrase: str | None,
    after: Sequence[str],
    now: float | None,
) -> None:
    store, _ = dictated(journal, (*EYES, *before), at=MORNING)
    assert store.record is not None
    amend(store, entry, phrase)

    going_on(store, after)

    found = looks(store.record).get(entry)
    assert (None if found is None else found[2]) == now
    assert journal.exam(store.exam) == store.record


def test_an_entry_behind_the_first_of_a_line_has_its_own_id(journal: Journal) -> None:
    store, session = dictated(journal, ("working distance 50",), at=MORNING)
    reader = LineReader(GRAMMAR, LINE_RULE, *TYPED)
    said = ("right eye", "streak horizontal neutral at plus one", "streak vertical neutral at plus two")
    meanings = [reader.understand(each).readings[0][0] for each in said]
    reply = respond(session.state, meanings, number=2)
    store.append(
        Line(number=2, at=MORNING, source="typed", text="; ".join(said), outcome="accepted", acts=reply.acts)
    )
    assert store.record is not None
    ids = [row.id for row in store.record.state.ledger.live if row.number == 2]
    assert ids == ["2", "2.2", "2.3"]

    amend(store, ids[-1], "neutral at plus four")

    assert looks(store.record)[ids[-1]][2] == 4.0
    assert looks(store.record)[ids[-2]][2] == 1.0
    (fate,) = fates(store.record)
    assert (fate.id, fate.number, fate.by, fate.reason) == (ids[-1], 2, "AB", "misread")


@pytest.mark.parametrize(
    ("entry", "phrase", "why"),
    [
        ("6", "neutral at one", "plus or minus"),
        ("6", "neutral at plus forty", "beyond 30 D"),
        ("6", "right eye", "entry 6 is a reading entry, not eye"),
        ("5", "left eye", "left eye already"),
        ("7", "neutral at plus one", "there is no entry 7"),
        ("4", "neutral with cylinder minus one axis 190", "not within 1 to 180"),
    ],
)
def test_what_would_have_to_be_asked_is_one_line(journal: Journal, entry: str, phrase: str, why: str) -> None:
    store, _ = dictated(journal, EYES, at=MORNING)
    assert store.record is not None

    with pytest.raises(VoicelogError, match=why) as raised:
        amend(store, entry, phrase)

    assert "\n" not in str(raised.value)
    assert looks(store.record) == BEFORE
