"""What is done to an exam afterwards beside amending: amendments taken back, entries added with who heard them."""

import pytest

from tests.english import load
from voicelog.errors import VoicelogError
from voicelog.exam.entries import EyeEntry
from voicelog.exam.events import Added
from voicelog.record import acts
from voicelog.record.adding import addition
from voicelog.record.corrections import fates
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import ExamRecord
from voicelog.record.export import exam_file
from voicelog.record.journal import Journal
from voicelog.record.rewording import phrase_of

from .cases import EXAM, LEFT, MORNING, NOON, RIGHT, dictated

GRAMMAR = load()
HALF = ("working distance sixty seven", "right eye", "streak one twenty neutral at minus one")
AFTERWARDS = Added(heard_by="AB", by="MK", reason="not heard by the log")


def record_of(store: ExamStore) -> ExamRecord:
    assert store.record is not None
    return store.record


def amend(store: ExamStore, entry: str, phrase: str | None) -> int:
    event = acts.amendment(
        record_of(store), NOON, by="MK", reason="misread", entry=entry, phrase=phrase, grammar=GRAMMAR
    )
    store.append(event)
    return event.number


def take_back(store: ExamStore, number: int) -> None:
    store.append(acts.taking_back(record_of(store), NOON, by="JD", reason="it was right", number=number))


def add(store: ExamStore, phrase: str) -> None:
    store.append(addition(record_of(store), NOON, added=AFTERWARDS, phrase=phrase, grammar=GRAMMAR))


def test_an_amendment_is_taken_back_with_all_that_followed_it(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)
    before = record_of(store)
    number = amend(store, "1", "working distance fifty")
    assert str(record_of(store).written("right")) != RIGHT

    take_back(store, number)

    again = journal.exam(store.exam)
    assert (str(again.written("right")), str(again.written("left"))) == (RIGHT, LEFT)
    assert [row.entry for row in again.state.ledger.live] == [row.entry for row in before.state.ledger.live]
    assert [(each.id, each.now) for each in fates(again)] == [(each.id, each.now) for each in fates(before)]
    assert again.amendments[number].by == "MK"  # both stay in the record
    assert again.amendments[again.next_number - 1].what == f"amendment {number} of entry 1 taken back by JD"


def test_an_entry_that_was_taken_out_counts_again(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)
    number = amend(store, "5", None)
    assert record_of(store).written("right") is None

    take_back(store, number)

    assert str(record_of(store).written("right")) == RIGHT


def test_amendments_are_taken_back_newest_first(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)
    first = amend(store, "5", "streak thirty neutral at plus three quarters")
    second = amend(store, "5", "streak thirty neutral at plus one")

    with pytest.raises(VoicelogError, match=rf"entry 5 was changed again by {second}: take that back before"):
        take_back(store, first)
    with pytest.raises(VoicelogError, match="event 5 is no amendment"):
        take_back(store, 5)
    take_back(store, second)
    assert record_of(store).state.ledger.rows["5"].entry.words().count("+0.75") == 1


def test_taking_back_is_taken_back(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)
    number = amend(store, "5", None)
    take_back(store, number)
    take_back(store, number + 1)

    assert record_of(store).state.ledger.rows["5"].withdrawn


def test_a_reading_is_added_with_who_heard_it_and_who_added_it(journal: Journal) -> None:
    store, _ = dictated(journal, HALF, at=MORNING)
    assert record_of(store).written("right") is None

    add(store, "right eye streak thirty neutral at plus one half")

    record = journal.exam(store.exam)
    assert str(record.written("right")) == RIGHT
    (line,) = record.added
    assert line.added is not None
    assert (line.added.heard_by, line.added.by) == ("AB", "MK")
    assert line.added.words == "heard by AB, added afterwards by MK: not heard by the log"
    assert line.at == NOON


@pytest.mark.parametrize(
    ("phrase", "why"),
    [
        ("streak thirty neutral at plus one half", "eye"),
        ("right eye streak thirty neutral at one half", "plus or minus"),
        ("right eye streak thirty neutral at plus plus", "understood"),
        ("correction minus two", "correct"),
        ("scratch that", "changes what was entered: amend that entry"),
        ("what is missing", "enters nothing"),
    ],
)
def test_what_would_be_asked_or_changes_something_is_not_added(
    journal: Journal, phrase: str, why: str
) -> None:
    store, _ = dictated(journal, HALF, at=MORNING)
    before = record_of(store).events

    with pytest.raises(VoicelogError, match=why):
        add(store, phrase)
    assert record_of(store).events == before


def test_what_is_added_can_be_taken_out_and_goes_into_the_file(journal: Journal) -> None:
    store, _ = dictated(journal, HALF, at=MORNING)
    add(store, "right eye streak thirty neutral at plus one half")
    added = record_of(store).state.ledger.live[-1]
    written = exam_file.written(journal.rows(store.exam))
    assert '"heard_by": "AB"' in written

    amend(store, added.id, None)

    assert record_of(store).written("right") is None


def test_an_attested_exam_takes_neither(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)
    number = amend(store, "5", "streak thirty neutral at plus one half")
    store.append(acts.attestation(record_of(store), NOON, by="MK"))

    with pytest.raises(VoicelogError, match="only an addendum"):
        add(store, "right eye streak thirty neutral at plus one")
    with pytest.raises(VoicelogError, match="only an addendum"):
        take_back(store, number)


def test_every_entry_is_said_again_as_it_is(journal: Journal) -> None:
    """The phrase a form begins with, entered as an amendment, changes nothing; an entry of an eye names its eye."""
    store, _ = dictated(journal, (*EXAM, "left eye acuity unaided six nine", "mirror concave"), at=MORNING)
    amend(store, "8", "streak horizontal neutral with cylinder minus three axis one eighty")
    record = record_of(store)
    for row in record.state.ledger.live:
        phrase = phrase_of(record, row.id, GRAMMAR)
        if isinstance(row.entry, EyeEntry):
            assert phrase == row.entry.words()
            continue
        amend(store, row.id, phrase)
        assert [(each.id, each.entry) for each in record_of(store).state.ledger.live] == [
            (each.id, each.entry) for each in record.state.ledger.live
        ], phrase
