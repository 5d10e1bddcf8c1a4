"""What is killed by `killing`: work on a record that acknowledges what it has done, and the look at what is left."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np

from voicelog.record.copies import backup, check_backup, restore
from voicelog.record.erasing_copies import erase_everywhere
from voicelog.record.exam_store import ExamStore
from voicelog.record.export import exam_file
from voicelog.record.importing import incoming, take
from voicelog.record.journal import Journal
from voicelog.record.proving import prove
from voicelog.record.verifying import verify

from .cases import dictated, heard_words

Say = Callable[[str], None]
DONE: Final = "all done"
SHORT: Final = ("right eye", "streak 90 neutral at plus one", "streak 180 neutral at plus two")
OLD: Final = Path(__file__).parent / "journals_v1" / "voicelog.db"
ERASED: Final = ("gooseberry", "zwieback")  # a word of each exam that is erased


def filled(journal: Journal, words: tuple[str, ...]) -> list[str]:
    """An exam for each word, with a clip and the word; their names."""
    return [_exam(journal, word).exam for word in words]


def _exam(journal: Journal, word: str) -> ExamStore:
    store, _ = dictated(journal, SHORT, reference=f"of {word}")
    noise = np.random.default_rng(len(word)).random(4000).astype(np.float32) - 0.5
    store.append(heard_words(store, f"the {word} is good", datetime.now(UTC), store.keep_clip(noise)))
    return store


def left_over(place: Path) -> Iterator[str]:
    """What belongs to nothing: parts of files, marks, folders of work."""
    for path in sorted(place.rglob("*")):
        name = path.name
        if name.startswith(".") or name.endswith(".part") or ".erasing" in name:
            yield f"left over: {path.relative_to(place)}"


def _faults(journal: Journal) -> Iterator[str]:
    verdict = verify(journal)
    yield from map(str, (*verdict.faults, *verdict.missing_clips))


def some_exams(place: Path) -> None:
    """A record of three exams."""
    with Journal.open(place / "data") as journal:
        filled(journal, ("one", "two", "three"))


def append(place: Path, say: Say, *, fold: bool = False) -> None:
    """Five exams, event by event, each with a clip."""
    with Journal.open(place / "data") as journal:
        for number in range(5):
            store, _ = dictated(journal, SHORT[:1])
            say(f"{store.exam} 0")
            for event in range(2, 7):
                sound = np.random.default_rng(number * 10 + event).random(3000).astype(np.float32)
                at = datetime.now(UTC) + timedelta(seconds=event)
                store.append(heard_words(store, f"word {event}", at, store.keep_clip(sound)))
                say(f"{store.exam} {event}")
                if fold:
                    journal.database.fold()


def append_and_fold(place: Path, say: Say) -> None:
    """The same, with the write-ahead file folded into the journal behind every event."""
    append(place, say, fold=True)


def judge_added(place: Path, said: list[str]) -> Iterator[str]:
    """Every event that was acknowledged is there, and at most one more."""
    with Journal.open(place / "data") as journal:
        yield from _faults(journal)
        there = {f"{exam} {row.number}" for exam in journal.names() for row in journal.rows(exam)}
    yield from (f"lost: event {each}" for each in set(said) - there)
    yield from left_over(place)


def exports(place: Path) -> None:
    """A record, and eight exams of another one as files."""
    some_exams(place)
    (place / "files").mkdir()
    with Journal.open(place / "other") as other:
        for exam in filled(other, tuple(f"word{number}" for number in range(8))):
            (place / "files" / f"{exam}.json").write_text(exam_file.written(other.rows(exam)))
    shutil.rmtree(place / "other")


def import_all(place: Path, say: Say) -> None:
    """One file after the other."""
    with Journal.open(place / "data") as journal:
        for path in sorted((place / "files").iterdir()):
            take(journal, incoming(path))
            say(path.stem)


def judge_imported(place: Path, said: list[str]) -> Iterator[str]:
    """Each is there wholly or not at all; what was acknowledged is there."""
    with Journal.open(place / "data") as journal:
        yield from map(str, verify(journal).faults)  # the sound is in no export
        there = set(journal.names())
        for path in sorted((place / "files").iterdir()):
            if path.stem in there and journal.rows(path.stem) != incoming(path).rows:
                yield f"not as it was exported: {path.stem}"
    yield from (f"lost: exam {each}" for each in set(said) - there)
    yield from left_over(place)


def backed_up(place: Path) -> None:
    """A record whose exams lie in a record that it replaced too, and in a backup elsewhere."""
    with Journal.open(place / "data") as journal:
        filled(journal, ("one", *ERASED, "three"))
        backup(journal, place / "bk")
        restore(place / "bk", journal, replace=True)


def erase_two(place: Path, say: Say) -> None:
    """Two of the four exams, everywhere."""
    with Journal.open(place / "data") as journal:
        for word in ERASED:
            exam = journal.find(f"of {word}")
            erase_everywhere(journal, exam, by="AB", reason="asked to", backups=[place / "bk"])
            say(word)


def judge_erased(place: Path, said: list[str]) -> Iterator[str]:
    """Each exam is whole, or found nowhere; what was acknowledged is found nowhere. Heads of before still prove."""
    with Journal.open(place / "data") as journal:
        yield from _faults(journal)
        yield from map(str, prove(journal, journal.heads.replaced()).faults)
        references = {journal.exam(name).started.reference for name in journal.names()}
    for word in ERASED:
        gone = f"of {word}" not in references
        if word in said and not gone:
            yield f"erased and still there: {word}"
        found = [path for path in place.rglob("*") if path.is_file() and word.encode() in path.read_bytes()]
        if gone:
            yield from (f"{word} is erased, and found in {path.relative_to(place)}" for path in found)
    if not {"of one", "of three"} <= references:
        yield f"exams that nobody erased are gone: {references}"
    for folder in (place / "bk", *(place / "data").glob("replaced-*")):
        check_backup(folder)
    yield from left_over(place)


def back_up(place: Path, say: Say) -> None:
    """Three backups."""
    with Journal.open(place / "data") as journal:
        for number in range(3):
            backup(journal, place / f"bk{number}")
            say(f"bk{number}")


def judge_backed_up(place: Path, said: list[str]) -> Iterator[str]:
    """Each backup is whole or not there."""
    with Journal.open(place / "data") as journal:
        yield from _faults(journal)
        digest = verify(journal).digest
    found = list(place.glob("bk*"))
    yield from (f"lost: {each}" for each in set(said) - {path.name for path in found})
    for path in found:
        if check_backup(path).digest != digest:
            yield f"{path.name} is of another record"
    yield from left_over(place)


def two_records(place: Path) -> None:
    """A record, and the backup of another one."""
    some_exams(place)
    with Journal.open(place / "other") as other:
        filled(other, ("four", "fives"))
        backup(other, place / "copy")
    shutil.rmtree(place / "other")


def put_back(place: Path, say: Say) -> None:
    """The backup in the place of the record."""
    with Journal.open(place / "data") as journal:
        restore(place / "copy", journal, replace=True)
        say("restored")


def judge_restored(place: Path, said: list[str]) -> Iterator[str]:
    """It is the one record or the other, with its clips; the backup is as it was."""
    new = check_backup(place / "copy")
    with Journal.open(place / "data") as journal:
        yield from _faults(journal)
        restored = verify(journal).digest == new.digest
        names = set(journal.names())
        if {path.name for path in (place / "data" / "clips").iterdir()} != names:
            yield "clips that are not of this record"
    if len(names) != (2 if restored else 3):
        yield f"neither record: {len(names)} exams"
    if said and not restored:
        yield "lost: it was restored"
    for folder in (place / "data").glob("replaced-*"):
        check_backup(folder)
    yield from left_over(place)


def old_journal(place: Path) -> None:
    """A journal of the time before the log."""
    (place / "data").mkdir(parents=True)
    shutil.copy(OLD, place / "data")


def take_up(place: Path, say: Say) -> None:
    """Opened, and an exam added."""
    with Journal.open(place / "data") as journal:
        say("taken up")
        say(dictated(journal, SHORT)[0].exam)


def judge_taken_up(place: Path, said: list[str]) -> Iterator[str]:
    """Every event of then is there, in the log too."""
    with Journal.open(place / "data") as journal:
        verdict = verify(journal, clips=False)
        yield from map(str, verdict.faults)
        if verdict.size != verdict.events:
            yield f"{verdict.events} events, {verdict.size} in the log"
        there = {(row.exam, row.number, row.hash) for exam in journal.names() for row in journal.rows(exam)}
    for exam in said[1:]:
        if not any(exam == each for each, _, _ in there):
            yield f"lost: exam {exam}"
    if not _rows_of_then() <= there:
        yield "events of then are gone"
    yield from left_over(place)


def _rows_of_then() -> set[tuple[str, int, str]]:
    with closing(sqlite3.connect(f"file:{OLD}?immutable=1", uri=True)) as connection:
        return set(connection.execute("SELECT exam, number, hash FROM event"))
