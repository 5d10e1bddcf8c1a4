"""`voicelog record`: the exams that were kept; to put right, attest, verify, back up and restore.

The functions take plain arguments and print to standard output. `server` is the URL of a PostgreSQL database, None for
the file in the data folder. All raise VoicelogError, which says in one line what is wrong.
"""

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import Progress

from voicelog.cli.parsing import whole_number
from voicelog.errors import VoicelogError
from voicelog.phrases.grammar import load_named
from voicelog.record import acts, copies, importing, verifying
from voicelog.record.errors import RecordError
from voicelog.record.events import Amended
from voicelog.record.exams import ExamRecord
from voicelog.record.export import exam_file
from voicelog.record.inert import inert
from voicelog.record.journal import ExamStore, Journal, Wanted
from voicelog.record.overviews import Overview, unescaped
from voicelog.record.places import data_folder
from voicelog.record.showing import exam_view, exams_table
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """One verb is needed."""
    verbs = parser.add_subparsers(required=True, metavar="COMMAND")

    listed = verbs.add_parser("list", help="the newest exams")
    listed.add_argument("--since", type=date.fromisoformat, metavar="YYYY-MM-DD", help="from this day on")
    listed.add_argument("--until", type=date.fromisoformat, metavar="YYYY-MM-DD", help="up to this day")
    listed.add_argument("--reference", help="a part of the reference")
    listed.add_argument("--unresolved", action="store_true", help="only exams with open points")
    listed.add_argument("--limit", type=whole_number(), default=50, metavar="N")
    listed.add_argument("--json", dest="as_json", action="store_true")
    listed.set_defaults(run=_run(list_exams))

    shown = verbs.add_parser("show", help="one exam with its ledger")
    shown.add_argument("named", metavar="EXAM", help="its name or the start of it, its reference, or last")
    shown.add_argument("--json", dest="as_json", action="store_true")
    shown.set_defaults(run=_run(show))

    amended = verbs.add_parser("amend", help="put an entry right with a reason, or add words")
    amended.add_argument("named", metavar="EXAM")
    amended.add_argument("--by", required=True, metavar="INITIALS")
    amended.add_argument(
        "--entry",
        metavar="N",
        help="number of the entry, as show prints it: 12, or 12.2 for the second of a line",
    )
    amended.add_argument("--to", metavar="PHRASE", help="what it should be")
    amended.add_argument("--withdraw", action="store_true", help="take it out")
    amended.add_argument("--reason")
    amended.add_argument("--add", metavar="TEXT", help="words that change no entry")
    amended.set_defaults(run=_run(amend))

    attested = verbs.add_parser("attest", help="vouch for an exam; afterwards only words can be added")
    attested.add_argument("named", metavar="EXAM")
    attested.add_argument("--by", required=True, metavar="INITIALS")
    attested.add_argument("--despite-open-points", action="store_true")
    attested.set_defaults(run=_run(attest))

    verified = verbs.add_parser("verify", help="prove that nothing was changed")
    verified.add_argument("--refresh", action="store_true", help="work the list's results out anew first")
    verified.add_argument(
        "--deep", action="store_true", help="work every exam out anew, and compare its results with the list"
    )
    verified.set_defaults(run=_run(verify))

    taken = verbs.add_parser(
        "import", help="take an exam from its JSON export: it is checked and shown first"
    )
    taken.add_argument("file", type=Path)
    taken.add_argument("--yes", action="store_true", help="take it without asking")
    taken.set_defaults(run=_run(import_exam))

    saved = verbs.add_parser("backup", help="copy the record to a new folder, and check the copy")
    saved.add_argument("folder", type=Path)
    saved.set_defaults(run=_run(backup))

    restored = verbs.add_parser("restore", help="put a backup in the place of the record")
    restored.add_argument("folder", type=Path)
    restored.add_argument(
        "--replace", action="store_true", help="although the record holds exams; they are kept aside"
    )
    restored.set_defaults(run=_run(restore))


def _run(function: Callable[..., bool | None]) -> Callable[[argparse.Namespace], int]:
    """Call a function with the arguments as they were given; what it finds false makes status 2."""

    def run(options: argparse.Namespace) -> int:
        given = {key: value for key, value in vars(options).items() if key != "run"}
        return 2 if function(**given, server=load_settings().record_server) is False else 0

    return run


def list_exams(
    *,
    since: date | None = None,
    until: date | None = None,
    reference: str | None = None,
    unresolved: bool = False,
    limit: int = 50,
    as_json: bool = False,
    server: str | None = None,
) -> None:
    """Print the newest exams; days are those of the local clock, both inclusive."""
    wanted = Wanted(
        since=None if since is None else _midnight(since),
        until=None if until is None else _midnight(until + timedelta(days=1)),
        reference=reference,
        unresolved=unresolved,
        limit=limit,
    )
    with Journal.open(server=server) as journal:
        found = journal.overviews(wanted)
    if as_json:
        print(json.dumps([_plain(each) for each in found], indent=2))
        return
    _print(exams_table(found) if found else "no exam fits")


def show(named: str, *, as_json: bool = False, server: str | None = None) -> None:
    """Print one exam with its ledger."""
    with Journal.open(server=server) as journal:
        exam = journal.find(named)
        if as_json:
            print(exam_file.written(journal.rows(exam)), end="")
            return
        _print(exam_view(exam, journal.exam(exam), journal.clips))


def amend(
    named: str,
    *,
    by: str,
    entry: str | None = None,
    to: str | None = None,
    withdraw: bool = False,
    reason: str | None = None,
    add: str | None = None,
    server: str | None = None,
) -> None:
    """Put an entry right (`entry` and `to`), take it out (`entry` and `withdraw`), or add words (`add`).

    The first two need a reason, and are refused once the exam is attested.
    """
    by = acts.initials(by, "--by")
    with Journal.open(server=server) as journal:
        store = journal.reopen(journal.find(named))
        record = _record(store)
        now = datetime.now(UTC)
        if add is not None:
            if entry is not None or to is not None or withdraw:
                raise VoicelogError("--add stands alone: words change no entry")
            store.append(acts.addendum(record, now, by=by, text=acts.readable(add, "--add")))
        else:
            store.append(_amendment(record, now, by, entry, to, withdraw, reason))
        _print(exam_view(store.exam, _record(store), journal.clips))


def attest(named: str, *, by: str, despite_open_points: bool = False, server: str | None = None) -> None:
    """Vouch for an exam as it stands; afterwards only words can be added to it."""
    by = acts.initials(by, "--by")
    with Journal.open(server=server) as journal:
        store = journal.reopen(journal.find(named))
        record = _record(store)
        event = acts.attestation(
            record,
            datetime.now(UTC),
            by=by,
            despite_open_points=despite_open_points,
            hint=" (--despite-open-points)",
        )
        store.append(event)
        print(f"exam {store.exam}: attested by {inert(by)}")


def verify(*, refresh: bool = False, deep: bool = False, server: str | None = None) -> bool:
    """Check the whole record and print what was found; whether it is without faults.

    With `refresh`, what the list of exams says of results is first worked out anew from the events. With `deep`, every
    exam is worked out anew and compared.
    """
    with Journal.open(server=server) as journal:
        if refresh:
            print(f"{verifying.refresh_list(journal)} rows of the list worked out anew")
        with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as bar:
            task = bar.add_task("exams", total=None)
            verdict = verifying.verify(
                journal, deep=deep, progress=lambda done, total: bar.update(task, completed=done, total=total)
            )
        return _say(verdict)


def import_exam(file: Path, *, yes: bool = False, server: str | None = None) -> bool:
    """Check and show the exam in a JSON export, and take it into the record after a yes; whether it was taken."""
    found = importing.incoming(file)
    with Journal.open(server=server) as journal:
        _print(exam_view(found.exam, found.record, journal.clips))
        for note in found.notes:
            print(f"note: {inert(note, 300)}")
        if not yes and not _agreed(f"take exam {found.exam} into the record? yes or no: "):
            print("not taken")
            return False
        importing.take(journal, found)
    print(f"exam {found.exam}: taken, {len(found.rows)} events")
    return True


def _agreed(question: str) -> bool:
    if not sys.stdin.isatty():
        return False
    return input(question).strip().lower() == "yes"


def backup(folder: Path, *, server: str | None = None) -> bool:
    """Copy the record to a new folder and check the copy; whether it is without faults."""
    with Journal.open(server=server) as journal:
        done = copies.backup(journal, folder)
    print(f"backup in {folder}")
    return _say(done.verdict)


def restore(folder: Path, *, replace: bool = False, server: str | None = None) -> bool:
    """Put a backup in the place of the record; whether the result is without faults."""
    with copies.open_to_restore(data_folder(), server, replace=replace) as journal:
        done = copies.restore(folder, journal, replace=replace)
    if done.kept is not None:
        print(f"what was there before is kept in {done.kept}")
    return _say(done.verdict)


def _plain(found: Overview) -> dict[str, Any]:
    """An overview for JSON, which has escapes of its own."""
    data = asdict(found) | {"reference": unescaped(found.reference), "unresolved": bool(found.unresolved)}
    data["attested_by"] = None if found.attested_by is None else unescaped(found.attested_by)
    del data["sought"]
    return data


def _amendment(
    record: ExamRecord,
    now: datetime,
    by: str,
    entry: str | None,
    to: str | None,
    withdraw: bool,
    reason: str | None,
) -> Amended:
    if reason is None:
        raise VoicelogError("an amendment needs its reason (--reason)")
    if entry is None or (to is None) != withdraw:
        raise VoicelogError("say which entry (--entry), and what it should be (--to PHRASE) or --withdraw")
    reason = acts.readable(reason, "--reason")
    grammar = load_named(load_settings().language)
    return acts.amendment(record, now, by=by, reason=reason, entry=entry, phrase=to, grammar=grammar)


def _record(store: ExamStore) -> ExamRecord:
    if store.record is None:
        raise RecordError(f"exam {store.exam} has no event")
    return store.record


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day).astimezone()


def _say(verdict: verifying.Verdict) -> bool:
    for fault in verdict.faults:
        print(f"FAULT {inert(str(fault), 500)}")
    for noted in (*verdict.missing_clips, *verdict.outdated):
        print(f"note: {inert(str(noted), 500)}")
    state = f"{len(verdict.faults)} faults" if verdict.faults else "no fault"
    print(f"{verdict.exams} exams, {verdict.events} events, {verdict.clips} clips: {state}")
    print(f"digest {verdict.digest}")
    return not verdict.faults


def _print(shown: Any) -> None:
    Console(markup=False, highlight=False, emoji=False).print(shown)
