"""The commands of the record; each takes plain arguments, opens the journal, and prints to standard output.

`server` is the URL of a PostgreSQL database, None for the file in the data folder. All raise VoicelogError, which says
in one line what is wrong.
"""

import json
import sys
from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from rich.console import Console

from voicelog.errors import VoicelogError
from voicelog.record import acts, copies, retention, verifying
from voicelog.record.errors import RecordError
from voicelog.record.events import Amended
from voicelog.record.exams import ExamRecord
from voicelog.record.export import exam_file, fhir, report, table
from voicelog.record.export.findings import findings
from voicelog.record.inert import inert
from voicelog.record.journal import ExamStore, Journal, Wanted
from voicelog.record.overviews import Overview, unescaped
from voicelog.record.places import data_folder, write_private
from voicelog.record.showing import exam_view, exams_table

Format = Literal["fhir", "csv", "json", "report"]
"""The formats that `export` writes."""


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
    entry: int | None = None,
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


def verify(*, refresh: bool = False, server: str | None = None) -> bool:
    """Check the whole record and print what was found; whether it is without faults.

    With `refresh`, what the list of exams says of results is first worked out anew from the events.
    """
    with Journal.open(server=server) as journal:
        if refresh:
            print(f"{verifying.refresh_list(journal)} rows of the list worked out anew")
        return _say(verifying.verify(journal))


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


def export(named: str, form: Format, *, to: Path | None = None, server: str | None = None) -> None:
    """Write an exam in one of the formats: to a new file, or to standard output (a report always to a file)."""
    with Journal.open(server=server) as journal:
        exam = journal.find(named)
        content = exported(journal, exam, form)
    if to is None and form != "report":
        sys.stdout.buffer.write(content)
        return
    path = to or Path(f"{exam}.pdf")
    if path.exists():
        raise VoicelogError(f"{path} exists and is not written over: name another file with --to")
    try:
        write_private(path, content)
    except OSError as error:
        raise VoicelogError(f"{path} cannot be written: {error.strerror}") from None
    print(path)


def exported(journal: Journal, exam: str, form: Format) -> bytes:
    """An exam in one of the formats, as the bytes of a file. Raises RecordError."""
    rows = journal.rows(exam)
    if form == "json":
        return exam_file.written(rows).encode()
    record = journal.exam(exam)
    found = findings(record)
    if form == "fhir":
        return (json.dumps(fhir.bundle(exam, record, found), indent=2) + "\n").encode()
    if form == "csv":
        return table.table(exam, record, found).encode()
    return report.report(exam, record, found, rows[-1].hash)


def expire_clips(*, clip_days: int, server: str | None = None) -> int:
    """Remove the clips whose days are over; how many files went."""
    with Journal.open(server=server, clip_days=clip_days) as journal:
        return retention.expire_clips(journal)


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
    entry: int | None,
    to: str | None,
    withdraw: bool,
    reason: str | None,
) -> Amended:
    if reason is None:
        raise VoicelogError("an amendment needs its reason (--reason)")
    if entry is None or (to is None) != withdraw:
        raise VoicelogError("say which entry (--entry), and what it should be (--to PHRASE) or --withdraw")
    reason = acts.readable(reason, "--reason")
    return acts.amendment(record, now, by=by, reason=reason, entry=entry, phrase=to)


def _record(store: ExamStore) -> ExamRecord:
    if store.record is None:
        raise RecordError(f"exam {store.exam} has no event")
    return store.record


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day).astimezone()


def _say(verdict: verifying.Verdict) -> bool:
    for fault in verdict.faults:
        print(f"FAULT {inert(str(fault), 500)}")
    for missing in verdict.missing_clips:
        print(f"note: {inert(str(missing), 500)}")
    state = f"{len(verdict.faults)} faults" if verdict.faults else "no fault"
    print(f"{verdict.exams} exams, {verdict.events} events, {verdict.clips} clips: {state}")
    print(f"digest {verdict.digest}")
    return not verdict.faults


def _print(shown: Any) -> None:
    Console(markup=False, highlight=False, emoji=False).print(shown)
