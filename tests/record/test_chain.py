"""The chain: what its hash covers, what cannot be written down, and that no changed byte goes unseen."""

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from voicelog.exam.events import Heard, Line, Started
from voicelog.phrases.meanings import Power, Reading
from voicelog.record.chain import FIRST_LINK, Row, broken_at, canonical, event_of, row_of
from voicelog.record.errors import CannotFollowError
from voicelog.record.journal import Journal

from .cases import MORNING, dictated

START = Started(at=MORNING, reference="4711", naming="streak")


def said(**fields: object) -> Line:
    known = {"number": 1, "at": MORNING, "source": "typed", "text": "x", "outcome": "accepted"}
    return Line.model_validate(known | fields)


def rows() -> list[Row]:
    first = row_of("20251125-aaaaaaaa", START, FIRST_LINK)
    second = row_of("20251125-aaaaaaaa", said(text="right eye"), first.hash)
    return [first, second, row_of("20251125-aaaaaaaa", said(number=2, text="left eye"), second.hash)]


def test_the_hash_is_that_of_the_documented_text() -> None:
    """Written out here once more by hand, as docs/record.md states it."""
    row = rows()[1]
    text = "\n".join((rows()[0].hash, row.exam, "1", "2025-11-25T08:15:00.000000Z", "line", row.body))

    assert row.hash == hashlib.sha256(text.encode("ascii")).hexdigest()
    assert rows()[0].hash != rows()[1].hash


def test_the_body_is_canonical_json_of_the_typed_event() -> None:
    row = row_of("20251125-aaaaaaaa", said(text="ümlaut \u202e \x00 가"), FIRST_LINK)

    assert row.body.isascii()
    assert row.body.isprintable()
    assert json.dumps(json.loads(row.body), sort_keys=True, separators=(",", ":")) == row.body
    assert event_of(row.body) == said(text="ümlaut \u202e \x00 가")


def test_times_are_kept_in_utc() -> None:
    seoul = timezone(timedelta(hours=9))
    row = row_of("20251125-aaaaaaaa", said(at=datetime(2025, 11, 25, 17, 15, 0, 5, tzinfo=seoul)), FIRST_LINK)

    assert row.at == "2025-11-25T08:15:00.000005Z"
    assert event_of(row.body).at == datetime(2025, 11, 25, 8, 15, 0, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    "event",
    [
        said(at=datetime(2025, 11, 25, 8, 15)),
        said(heard=Heard(engine="x", score=float("inf"), margin=None)),
        said(heard=Heard(engine="x", score=float("nan"), margin=None)),
        said(meanings=[Reading(motion="with")]).model_copy(update={"meanings": ("a text",)}),
    ],
    ids=["no zone", "infinite", "not a number", "not a meaning"],
)
@pytest.mark.filterwarnings("ignore:Pydantic serializer warnings")
def test_what_would_not_read_back_is_refused(event: Line) -> None:
    with pytest.raises(CannotFollowError):
        row_of("20251125-aaaaaaaa", event, FIRST_LINK)


def test_a_zero_said_with_a_sign_can_be_kept() -> None:
    """ "Plus nothing" is plano: the sign of a zero is the one thing that does not come back."""
    event = said(meanings=[{"kind": "power", "power": Power(size_d=0.0, sign=1)}])

    kept = event_of(row_of("20251125-aaaaaaaa", event, FIRST_LINK).body)

    assert isinstance(kept, Line)
    assert canonical(kept.meanings[0].model_dump(mode="json")) == '{"kind":"power","power":0.0}'


def test_a_whole_chain_has_no_break() -> None:
    assert broken_at(rows()) is None


@pytest.mark.parametrize("index", [0, 1, 2])
def test_every_changed_character_is_found(index: int) -> None:
    """Each character of each column, turned into its neighbour; the first bad row is named."""
    good = rows()
    for name in ("exam", "at", "kind", "body", "hash"):
        value = getattr(good[index], name)
        for place in range(len(value)):
            changed = value[:place] + chr(ord(value[place]) ^ 1) + value[place + 1 :]
            bad = [*good[:index], replace(good[index], **{name: changed}), *good[index + 1 :]]

            broken = broken_at(bad)

            assert broken is not None, (name, place)
            assert broken[0] == index, (name, place)


@pytest.mark.parametrize(
    ("bad", "number"),
    [
        (lambda good: [good[0], good[2]], 2),
        (lambda good: good[1:], 1),
        (lambda good: [good[0], good[2], good[1]], 2),
        (lambda good: [good[0], good[0], *good[1:]], 0),
        (lambda good: [good[0], replace(good[1], number=7), good[2]], 7),
        (lambda good: [good[0], replace(good[1], body=None), good[2]], 1),
        (lambda good: [good[0], replace(good[1], body=good[1].body.encode()), good[2]], 1),
    ],
    ids=["one gone", "first gone", "swapped", "doubled", "renumbered", "emptied", "of another type"],
)
def test_missing_moved_and_emptied_rows_are_found(bad, number: int) -> None:  # type: ignore[no-untyped-def]
    broken = broken_at(bad(rows()))

    assert broken is not None
    assert broken[0] == number


def test_a_row_written_wrongly_is_found_although_its_hash_fits() -> None:
    first = rows()[0]
    other = row_of("20251125-aaaaaaaa", said(number=5), first.hash)
    lying = replace(other, number=1)
    lying = replace(lying, hash=_rehashed(lying, first.hash))

    assert broken_at([first, lying]) == (1, "number, kind or time of the row are not those of its event")


def test_a_body_of_no_known_kind_is_named(journal: Journal) -> None:
    store, _ = dictated(journal)
    row = journal.rows(store.exam)[0]
    unknown = replace(row, body=row.body.replace('"kind":"started"', '"kind":"stranger"'))
    unknown = replace(unknown, hash=_rehashed(unknown, FIRST_LINK))

    broken = broken_at([unknown])

    assert broken is not None
    assert "cannot be read" in broken[1]


def _rehashed(row: Row, previous: str) -> str:
    text = "\n".join((previous, row.exam, str(row.number), row.at, row.kind, row.body))
    return hashlib.sha256(text.encode()).hexdigest()
