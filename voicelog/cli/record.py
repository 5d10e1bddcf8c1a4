"""`voicelog record`: the exams that were kept; to put right, attest, verify, back up and restore.

The functions take plain arguments and print to standard output. `server` is the URL of a PostgreSQL database, None for
the file in the data folder. All raise VoicelogError, which says in one line what is wrong.
"""

import argparse
import json
from dataclasses import asdict
from datetime import UTC, date, datetime
from typing import Any

from voicelog.cli import record_whole
from voicelog.cli.parsing import day, whole_number
from voicelog.cli.record_common import journal_of, printed, running
from voicelog.errors import VoicelogError
from voicelog.exam.events import Added
from voicelog.phrases.grammar import load_named
from voicelog.record import acts
from voicelog.record.adding import addition
from voicelog.record.errors import RecordError
from voicelog.record.events import Amended
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import ExamRecord
from voicelog.record.export import exam_file
from voicelog.record.inert import inert
from voicelog.record.listing import Wanted, between
from voicelog.record.overviews import Overview, unescaped
from voicelog.record.showing import exam_view, exams_table
from voicelog.settings import load_settings

_EXAM = "its name or the start of it, its reference, or last"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """One verb is needed."""
    verbs = parser.add_subparsers(required=True, metavar="COMMAND")

    listed = verbs.add_parser("list", help="the newest exams")
    listed.add_argument("--since", type=day, metavar="YYYY-MM-DD", help="from this day on")
    listed.add_argument("--until", type=day, metavar="YYYY-MM-DD", help="up to this day")
    listed.add_argument("--reference", metavar="TEXT", help="only exams with this in their reference")
    listed.add_argument("--unresolved", action="store_true", help="only exams with open points")
    listed.add_argument(
        "--limit", type=whole_number(), default=50, metavar="N", help="how many at most (default: 50)"
    )
    listed.add_argument("--json", dest="as_json", action="store_true", help="print JSON")
    listed.set_defaults(run=running(list_exams))

    shown = verbs.add_parser("show", help="one exam with its ledger")
    shown.add_argument("named", metavar="EXAM", help=_EXAM)
    shown.add_argument("--json", dest="as_json", action="store_true", help="print JSON")
    shown.set_defaults(run=running(show))

    amended = verbs.add_parser("amend", help="put an entry right with a reason, or add words")
    amended.add_argument("named", metavar="EXAM", help=_EXAM)
    amended.add_argument("--by", required=True, metavar="INITIALS", help="who changes it")
    amended.add_argument(
        "--entry",
        metavar="N",
        help="number of the entry, as show prints it: 12, or 12.2 for the second of a line",
    )
    amended.add_argument("--to", metavar="PHRASE", help="what it should be")
    amended.add_argument("--withdraw", action="store_true", help="take it out")
    amended.add_argument(
        "--take-back", type=whole_number(1), metavar="N", help="undo amendment N, as show numbers it"
    )
    amended.add_argument("--new", metavar="PHRASE", help="enter what was not entered; name the eye in it")
    amended.add_argument(
        "--heard-by", metavar="INITIALS", help="who heard or saw it in the exam (with --new)"
    )
    amended.add_argument("--reason", metavar="TEXT", help="why; every amendment but --add needs it")
    amended.add_argument("--add", metavar="TEXT", help="words that change no entry")
    amended.set_defaults(run=running(amend))

    attested = verbs.add_parser("attest", help="vouch for an exam; afterwards only words can be added")
    attested.add_argument("named", metavar="EXAM", help=_EXAM)
    attested.add_argument("--by", required=True, metavar="INITIALS", help="who vouches for it")
    attested.add_argument(
        "--despite-open-points", action="store_true", help="although something is missing or in conflict"
    )
    attested.set_defaults(run=running(attest))

    record_whole.add_arguments(verbs)


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
    first, last = between(since, until)
    wanted = Wanted(since=first, until=last, reference=reference, unresolved=unresolved, limit=limit)
    with journal_of(server) as journal:
        found = journal.overviews(wanted)
    if as_json:
        print(json.dumps([_plain(each) for each in found], indent=2))
        return
    printed(exams_table(found) if found else "no exam fits")


def show(named: str, *, as_json: bool = False, server: str | None = None) -> None:
    """Print one exam with its ledger."""
    with journal_of(server) as journal:
        exam = journal.find(named)
        if as_json:
            print(exam_file.written(journal.rows(exam)), end="")
            return
        printed(exam_view(exam, journal.exam(exam), journal.clips))


def amend(
    named: str,
    *,
    by: str,
    entry: str | None = None,
    to: str | None = None,
    withdraw: bool = False,
    take_back: int | None = None,
    new: str | None = None,
    heard_by: str | None = None,
    reason: str | None = None,
    add: str | None = None,
    server: str | None = None,
) -> None:
    """Put an entry right (`entry` and `to`), take it out (`entry` and `withdraw`), undo an amendment (`take_back`),
    enter what was not entered (`new` and `heard_by`), or add words (`add`).

    All but the last need a reason, and are refused once the exam is attested.
    """
    by = acts.initials(by, "--by")
    if add is not None and any((entry, to, withdraw, take_back, new)):
        raise VoicelogError("--add stands alone: words change no entry")
    if sum(each is not None for each in (entry, take_back, new)) > 1:
        raise VoicelogError("one thing at a time: --entry, --take-back or --new")
    if (new is None) != (heard_by is None):
        raise VoicelogError("--new PHRASE and --heard-by INITIALS go together")
    with journal_of(server) as journal:
        store = journal.reopen(journal.find(named))
        record = _record(store)
        now = datetime.now(UTC)
        if add is not None:
            store.append(acts.addendum(record, now, by=by, text=acts.readable(add, "--add")))
        elif take_back is not None:
            store.append(acts.taking_back(record, now, by=by, reason=_reason(reason), number=take_back))
        elif new is not None and heard_by is not None:
            added = Added(heard_by=acts.initials(heard_by, "--heard-by"), by=by, reason=_reason(reason))
            grammar = load_named(load_settings().language)
            store.append(addition(record, now, added=added, phrase=new, grammar=grammar))
        else:
            store.append(_amendment(record, now, by, entry, to, withdraw, reason))
        printed(exam_view(store.exam, _record(store), journal.clips))


def attest(named: str, *, by: str, despite_open_points: bool = False, server: str | None = None) -> None:
    """Vouch for an exam as it stands; afterwards only words can be added to it."""
    by = acts.initials(by, "--by")
    with journal_of(server) as journal:
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
    why = _reason(reason)
    if entry is None or (to is None) != withdraw:
        raise VoicelogError("say which entry (--entry), and what it should be (--to PHRASE) or --withdraw")
    grammar = load_named(load_settings().language)
    return acts.amendment(record, now, by=by, reason=why, entry=entry, phrase=to, grammar=grammar)


def _reason(reason: str | None) -> str:
    if reason is None:
        raise VoicelogError("an amendment needs its reason (--reason)")
    return acts.readable(reason, "--reason")


def _record(store: ExamStore) -> ExamRecord:
    if store.record is None:
        raise RecordError(f"exam {store.exam} has no event")
    return store.record
