"""`voicelog record`, what is about the record as a whole: to verify, prove, import, back up and restore."""

import argparse
import json
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console
from rich.progress import Progress

from voicelog.cli.record_common import journal_of, printed, running
from voicelog.errors import VoicelogError
from voicelog.record import acts, clock, copies, erasing, erasing_copies, importing, proving, verifying
from voicelog.record.heads import Head
from voicelog.record.inert import inert
from voicelog.record.journal import Journal
from voicelog.record.opening import open_record
from voicelog.record.places import data_folder
from voicelog.record.plain import counted
from voicelog.record.retention import expire_clips
from voicelog.record.showing import exam_view
from voicelog.record.visits import begun_from
from voicelog.settings import load_settings


def add_arguments(verbs: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The verbs of this file."""
    verified = verbs.add_parser("verify", help="prove that nothing was changed")
    verified.add_argument("--refresh", action="store_true", help="work the list's results out anew first")
    verified.add_argument(
        "--deep", action="store_true", help="work every exam out anew, and compare its results with the list"
    )
    verified.set_defaults(run=running(verify))

    proved = verbs.add_parser("prove", help="say whether an earlier head is the beginning of today's record")
    proved.add_argument(
        "head",
        nargs="+",
        metavar="HEAD",
        help="the head's seven words, or a file with heads, as head.txt in a backup",
    )
    proved.add_argument(
        "--proof", type=Path, metavar="FILE", help="write a proof that others can check, as JSON"
    )
    proved.add_argument("--exam", metavar="EXAM", help="with the place of this exam's events in it")
    proved.set_defaults(run=running(prove))

    taken = verbs.add_parser(
        "import", help="take an exam from its JSON export: it is checked and shown first"
    )
    taken.add_argument("file", type=Path, metavar="FILE", help="as export EXAM --format json writes it")
    taken.add_argument("--yes", action="store_true", help="take it without asking")
    taken.set_defaults(run=running(import_exam))

    erased = verbs.add_parser("erase", help="erase an exam, words and sound, for good: it is shown first")
    erased.add_argument("named", metavar="EXAM", help="its name or the start of it, its reference, or last")
    erased.add_argument("--by", required=True, metavar="INITIALS", help="who erases it")
    erased.add_argument("--reason", required=True, metavar="TEXT", help="kept for good: name nobody in it")
    erased.add_argument(
        "--backup",
        dest="backups",
        type=Path,
        action="append",
        default=[],
        metavar="FOLDER",
        help="a backup, made anew too",
    )
    erased.add_argument("--yes", action="store_true", help="erase it without asking")
    erased.set_defaults(run=running(erase))

    expired = verbs.add_parser(
        "expire", help="remove sound whose days are over; a clock in doubt is asked about"
    )
    expired.add_argument("--yes", action="store_true", help="the clock is right")
    expired.set_defaults(run=running(expire))

    saved = verbs.add_parser("backup", help="copy the record to a new folder, and check the copy")
    saved.add_argument("folder", type=Path, metavar="FOLDER", help="a new one, or one that is empty")
    saved.set_defaults(run=running(backup))

    restored = verbs.add_parser("restore", help="put a backup in the place of the record")
    restored.add_argument("folder", type=Path, metavar="FOLDER", help="of the backup")
    restored.add_argument(
        "--replace", action="store_true", help="although the record holds exams; they are kept aside"
    )
    restored.set_defaults(run=running(restore))


def verify(*, refresh: bool = False, deep: bool = False, server: str | None = None) -> bool:
    """Check the whole record and print what was found; whether it is without faults.

    With `refresh`, what the list of exams says of results is first worked out anew from the events. With `deep`, every
    exam is worked out anew and compared.
    """
    with journal_of(server) as journal:
        if refresh:
            print(f"{counted(verifying.refresh_list(journal), 'row')} of the list worked out anew")
        with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as bar:
            task = bar.add_task("exams", total=None)
            verdict = verifying.verify(
                journal, deep=deep, progress=lambda done, total: bar.update(task, completed=done, total=total)
            )
        return _say(verdict, journal.head())


def prove(
    head: Sequence[str], *, proof: Path | None = None, exam: str | None = None, server: str | None = None
) -> bool:
    """Check the record, and whether earlier heads are its beginning; whether both are so."""
    if exam is not None and proof is None:
        raise VoicelogError("--exam goes with --proof FILE")
    heads = proving.heads_in(head)
    with journal_of(server) as journal:
        found = proving.prove(journal, heads)
        for fault in (*found.faults, *found.verdict.faults):
            print(f"FAULT {inert(str(fault), 1000)}")
        for note in found.notes:
            print(f"note: {inert(note, 500)}")
        size, last = found.verdict.size, heads[-1]
        if not found.faults:
            now = f"{size} today, and those are the first of them, unchanged"
            print(f"{counted(last.size, 'event')} with {last.last}; {now}")
        if proof is not None:
            named = None if exam is None else journal.find(exam)
            content = json.dumps(proving.proof(journal, last, named), indent=2)
            with proof.open("x", encoding="utf-8") as file:
                file.write(content + "\n")
        return not found.faults and not found.verdict.faults


def import_exam(file: Path, *, yes: bool = False, server: str | None = None) -> bool:
    """Check and show the exam in a JSON export, and take it into the record after a yes; whether it was taken."""
    found = importing.incoming(file)
    with journal_of(server) as journal:
        printed(exam_view(found.exam, found.record, journal.clips))
        for note in found.notes:
            print(f"note: {inert(note, 300)}")
        if not yes and not _agreed(f"take exam {found.exam} into the record? yes or no: "):
            print("not taken")
            return False
        importing.take(journal, found)
    print(f"exam {found.exam}: taken, {counted(len(found.rows), 'event')}")
    return True


def _agreed(question: str) -> bool:
    if not sys.stdin.isatty():
        return False
    return input(question).strip().lower() == "yes"


def erase(
    named: str,
    *,
    by: str,
    reason: str,
    backups: Sequence[Path] = (),
    yes: bool = False,
    server: str | None = None,
) -> bool:
    """Show an exam and erase it after a yes, here and in backups; whether nothing of it is left that is known of."""
    by, reason = acts.initials(by, "--by"), acts.readable(reason, "--reason")
    with journal_of(server) as journal:
        exam, again = _to_erase(journal, named)
        if not again:
            printed(exam_view(exam, journal.exam(exam), journal.clips))
            for name in begun_from(journal, exam):
                print(f"note: exam {name} started its estimate from this one and keeps its result")
            if not yes and not _agreed(f"erase exam {exam} for good? yes or no: "):
                print("not erased")
                return False
        reached = erasing_copies.erase_everywhere(journal, exam, by=by, reason=reason, backups=backups)
    print(f"exam {exam}: erased")
    for folder in reached.anew:
        print(f"{folder}: made anew without it")
    for folder in reached.without:
        print(f"{folder}: does not hold it")
    for folder in reached.unreadable:
        print(f"note: {folder} may still hold it, and cannot be read: remove it yourself")
    return not reached.unreadable


def _to_erase(journal: Journal, named: str) -> tuple[str, bool]:
    """The exam that is meant, and whether it was erased before; then only what is left of it goes."""
    with journal.database.reading() as connection:
        if any(each.exam == named for each in erasing.erasures(connection)):
            return named, True
    return journal.find(named), False


def expire(*, yes: bool = False, server: str | None = None) -> bool:
    """Remove sound whose days are over; whether it was done. A clock that stepped is asked about."""
    with open_record(load_settings().model_copy(update={"record_server": server})) as journal:
        why = clock.doubt(journal, datetime.now(UTC))
        if why is not None and not yes and not _agreed(f"{why}. Is the clock right? yes or no: "):
            print("nothing is removed: set the clock first")
            return False
        print(f"{counted(expire_clips(journal, sure=True), 'file')} of sound removed")
    return True


def backup(folder: Path, *, server: str | None = None) -> bool:
    """Copy the record to a new folder and check the copy; whether it is without faults."""
    with journal_of(server) as journal:
        done = copies.backup(journal, folder)
        print(f"backup in {folder}")
        return _say(done.verdict, journal.head())


def restore(folder: Path, *, replace: bool = False, server: str | None = None) -> bool:
    """Put a backup in the place of the record; whether the result is without faults."""
    with copies.open_to_restore(data_folder(), server, replace=replace) as journal:
        done = copies.restore(folder, journal, replace=replace)
        if done.kept is not None:
            print(f"what was there before is kept in {done.kept}")
        return _say(done.verdict, journal.head())


def _say(verdict: verifying.Verdict, head: Head | None) -> bool:
    for fault in verdict.faults:
        print(f"FAULT {inert(str(fault), 500)}")
    for noted in (*verdict.missing_clips, *verdict.outdated):
        print(f"note: {inert(str(noted), 500)}")
    for note in verdict.noted:
        print(f"note: {inert(note, 500)}")
    state = counted(len(verdict.faults), "fault") if verdict.faults else "no fault"
    exams, events = counted(verdict.exams, "exam"), counted(verdict.events, "event")
    print(f"{exams}, {events}, {counted(verdict.clips, 'clip')}: {state}")
    print(f"digest {verdict.digest}")
    if head is not None:
        print(head)
    return not verdict.faults
