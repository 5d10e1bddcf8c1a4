"""An exam goes out as JSON and comes back into an empty record as it was; a file that was touched does not."""

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path
from random import Random

import numpy as np
import pytest

from voicelog.cli import record_whole
from voicelog.phrases.grammar import LINE_RULE, Grammar, load_named
from voicelog.phrases.sampler import samples
from voicelog.record import acts
from voicelog.record.amending import taken_out
from voicelog.record.chain import canonical, link, utc_text
from voicelog.record.errors import AlreadyThereError, RecordError
from voicelog.record.events import Amended, ClipsExpired
from voicelog.record.exam_store import ExamStore
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.importing import incoming, take
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted
from voicelog.record.verifying import verify

from .cases import MORNING, dictated, heard_words

HERE = Path(__file__).parent
OLD = sorted(HERE.glob("journals_v1/*.json")) + sorted(HERE.glob("data/*.json"))
NOISE = (np.random.default_rng(2).random(4000) - 0.5).astype(np.float32)
HOSTILE = '../x \ud800 \u202e \x00 =cmd "q" 가'


def random_exam(journal: Journal, grammar: Grammar, random: Random) -> ExamStore:
    """Random phrases of the whole grammar, typed; then what is done to exams afterwards."""
    phrases = samples(grammar.walker(LINE_RULE), random)
    said = list(islice(phrases, random.randrange(1, 16)))
    reference = random.choice(["", "4711", HOSTILE])
    start = MORNING + timedelta(days=random.randrange(300))
    store, session = dictated(journal, ["working distance 67", "right eye"], reference, start)
    for each in said:  # what it means is known: nothing has to be read
        session._take("typed", each.text, each.meanings, sure=random.random() < 0.9)
    later = (start + timedelta(hours=1, seconds=each) for each in range(100))
    if random.random() < 0.5:
        clip = store.keep_clip(NOISE)
        store.append(heard_words(store, "talk", next(later), clip))
        if random.random() < 0.5:
            store.append(
                ClipsExpired(number=store.next_number, at=next(later), days=30, clips=(clip.hash or "",))
            )
    _afterwards(store, random, later)
    return store


def _afterwards(store: ExamStore, random: Random, later: Iterator[datetime]) -> None:
    record = store.record
    assert record is not None
    live = record.state.ledger.live
    if live and random.random() < 0.5:
        changes = taken_out(record.state, random.choice(live).id).changes
        store.append(
            Amended.model_validate(
                {
                    "number": store.next_number,
                    "at": next(later),
                    "by": "AB",
                    "reason": "misread",
                    "changes": changes,
                }
            )
        )
    for each in (acts.addendum, acts.attestation, acts.addendum):
        if random.random() < 0.5:
            assert store.record is not None
            more = {"text": "seen again"} if each is acts.addendum else {"despite_open_points": True}
            store.append(each(store.record, next(later), by="AB", **more))


def there_and_back(journal: Journal, empty: Journal, exam: str, path: Path) -> None:
    went = exported(journal, exam, FORMATS["json"])
    path.write_bytes(went)

    found = incoming(path)
    take(empty, found)

    assert found.notes == ()
    assert exported(empty, exam, FORMATS["json"]) == went
    assert empty.rows(exam) == journal.rows(exam)
    assert empty.overviews()[0] in journal.overviews(Wanted(limit=1000))


@pytest.mark.parametrize("count", [4, pytest.param(200, marks=pytest.mark.sweep)])
def test_exams_of_all_kinds_come_back_as_they_went(journal: Journal, tmp_path: Path, count: int) -> None:
    random, grammar = Random(count), load_named("en")
    for index in range(count):
        exam = random_exam(journal, grammar, random).exam
        with Journal.open(tmp_path / str(index)) as empty:
            there_and_back(journal, empty, exam, tmp_path / f"{index}.json")
            assert verify(empty, clips=False, deep=True).faults == ()


@pytest.mark.parametrize("path", OLD, ids=lambda path: path.stem)
def test_files_of_older_versions_are_taken(journal: Journal, path: Path) -> None:
    found = incoming(path)
    take(journal, found)

    assert [each.hash for each in journal.rows(found.exam)] == [
        each["hash"] for each in json.loads(path.read_text())["events"]
    ]
    assert verify(journal, clips=False, deep=True).faults == ()


def test_an_exam_is_taken_once(journal: Journal, tmp_path: Path) -> None:
    store, session = dictated(journal, at=MORNING)
    path = tmp_path / "exam.json"
    path.write_bytes(exported(journal, store.exam, FORMATS["json"]))

    with pytest.raises(AlreadyThereError, match="already, the same"):
        take(journal, incoming(path))
    session.type_line("left eye")
    with pytest.raises(AlreadyThereError, match="it is another"):
        take(journal, incoming(path))
    assert verify(journal).faults == ()


def stated(data: dict[str, object]) -> None:
    data["attested_by"] = "XY"


def named(data: dict[str, object]) -> None:
    data["exam"] = "../../etc"
    rechained(data)


def shortened(data: dict[str, object]) -> None:
    data["events"] = data["events"][1:]  # type: ignore[index]


def emptied(data: dict[str, object]) -> None:
    data["events"][3]["event"]["acts"][0]["changes"][0]["id"] = "2"  # type: ignore[index]
    rechained(data)


def rechained(data: dict[str, object]) -> None:
    """With new hashes, as somebody writes them who knows how."""
    previous = "0" * 64
    for each in data["events"]:  # type: ignore[attr-defined]
        event = each["event"]
        at = utc_text(datetime.fromisoformat(event["at"]))
        previous = link(previous, data["exam"], event["number"], at, event["kind"], canonical(event))
        each["hash"] = previous


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (stated, "states another attested by than its events"),
        (named, "is no name of an exam"),
        (shortened, "event 0 is missing"),
        (emptied, "the events make no exam"),
    ],
)
def test_a_file_that_was_changed_is_not_taken(
    journal: Journal, tmp_path: Path, change: object, what: str
) -> None:
    store, _ = dictated(journal, at=MORNING)
    path = tmp_path / "exam.json"
    data = json.loads(exported(journal, store.exam, FORMATS["json"]))
    change(data)  # type: ignore[operator]
    path.write_text(json.dumps(data))

    with pytest.raises(RecordError, match=what) as raised:
        incoming(path)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize("content", ["[" * 100_000, '"x"', "\xff", '{"version": 3, "events": 7}'])
def test_a_file_that_is_no_exam_is_not_taken(tmp_path: Path, content: str) -> None:
    path = tmp_path / "exam.json"
    path.write_bytes(content.encode("latin-1"))

    with pytest.raises(RecordError) as raised:
        incoming(path)
    assert "\n" not in str(raised.value)


def test_it_is_shown_before_it_is_taken(
    journal: Journal,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    store, _ = dictated(journal, at=MORNING)
    path = tmp_path / "exam.json"
    path.write_bytes(exported(journal, store.exam, FORMATS["json"]))
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "other"))

    assert not record_whole.import_exam(path)
    shown = capsys.readouterr().out
    assert store.exam in shown
    assert shown.endswith("not taken\n")
    assert record_whole.import_exam(path, yes=True)
    with Journal.open(tmp_path / "other") as other:
        assert other.rows(store.exam) == journal.rows(store.exam)
