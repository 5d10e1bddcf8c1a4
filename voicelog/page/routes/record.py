"""The record as data: list, one exam, its exports, and what is done to it afterwards."""

from datetime import UTC, date, datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, HTTPException, Path, Query
from pydantic import AfterValidator, BaseModel, Field
from starlette.responses import Response

from voicelog.exam.events import Added
from voicelog.page.access import PageError
from voicelog.page.context import Page, ThisPage
from voicelog.page.problems import Responses, problem
from voicelog.record import acts
from voicelog.record.adding import addition
from voicelog.record.erasing_copies import erase_everywhere
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import ExamRecord
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.listing import Wanted, between
from voicelog.record.overviews import unescaped
from voicelog.record.rewording import phrase_of

router = APIRouter(prefix="/api/exams", tags=["record"])

_UNKNOWN: Final[Responses] = {
    400: problem("it cannot be done; the answer says why"),
    404: problem("there is no such exam"),
}

_FILES: Final[Responses] = {
    200: {"description": "the file", "content": {each.media_type: {} for each in FORMATS.values()}}
}


def _known(name: str) -> str:
    if name not in FORMATS:
        raise ValueError(f"the formats are {', '.join(FORMATS)}")
    return name


EventNumber = Annotated[int, Path(ge=1, le=10**6)]
FormatName = Annotated[str, Path(json_schema_extra={"enum": list(FORMATS)}), AfterValidator(_known)]
Initials = Annotated[str, Field(min_length=1, max_length=20)]
Text = Annotated[str, Field(min_length=1, max_length=2000)]


EntryId = Annotated[str, Field(pattern=r"^[0-9]{1,6}(\.[0-9]{1,3})?$")]
Phrase = Annotated[str, Field(min_length=1, max_length=200)]


class Amendment(BaseModel):
    """An entry ("12"; "12.2" for the second of a line) is made what `phrase` says, or taken out with `take_out`."""

    by: Initials
    reason: Text
    entry: EntryId
    phrase: Phrase | None = None
    take_out: bool = False


class TakingBack(BaseModel):
    """An amendment is undone."""

    by: Initials
    reason: Text


class NewEntry(BaseModel):
    """What was heard or seen in the exam by `heard_by` and not entered then; the phrase names its eye."""

    heard_by: Initials
    by: Initials
    reason: Text
    phrase: Phrase


class Addition(BaseModel):
    """Words that change no entry."""

    by: Initials
    text: Text


class Discarding(BaseModel):
    """An empty exam goes."""

    by: Initials


class Attestation(BaseModel):
    """Somebody vouches for the exam as it stands."""

    by: Initials
    despite_open_points: bool = False


@router.get("", responses={404: problem("there is nothing to look for in the reference")})
def exams(
    page: ThisPage,
    reference: Annotated[str | None, Query(max_length=200)] = None,
    unresolved: bool = False,
    since: date | None = None,
    until: date | None = None,
    skip: Annotated[int, Query(ge=0, le=10**9)] = 0,
    limit: Annotated[int, Query(ge=1, le=1000)] = 50,
) -> list[dict[str, Any]]:
    """The newest exams; `reference` is a part of the practice's own reference, days are local and inclusive."""
    first, last = between(since, until)
    wanted = Wanted(
        since=first, until=last, reference=reference, unresolved=unresolved, skip=skip, limit=limit
    )
    return [
        {
            "exam": each.id,
            "reference": unescaped(each.reference),
            "started_at": each.started_at,
            "unresolved": bool(each.unresolved),
            "right": {"status": each.right_status, "result": each.right_result},
            "left": {"status": each.left_status, "result": each.left_result},
            "attested_by": None if each.attested_by is None else unescaped(each.attested_by),
        }
        for each in page.journal.overviews(wanted)
    ]


@router.get("/{exam}/exports/{form}", responses=_UNKNOWN | _FILES, response_class=Response)
def export(exam: str, form: FormatName, page: ThisPage) -> Response:
    """One exam as a file: FHIR R4, CSV, JSON, or a report to print (PDF)."""
    wanted = FORMATS[form]
    content = exported(page.journal, exam, wanted)
    named = f'attachment; filename="{exam}.{wanted.ending}"'
    return Response(content, media_type=wanted.media_type, headers={"content-disposition": named})


@router.post("/{exam}/amendments", status_code=201, responses=_UNKNOWN)
def amend(exam: str, amendment: Amendment, page: ThisPage) -> dict[str, int]:
    """Put one entry right, or take it out, with a reason. Answers with the number of the amendment."""
    if (amendment.phrase is None) != amendment.take_out:
        raise PageError("say what it should be; to take an entry out is an order of its own")
    store, record = _to_change(page, exam)
    by, reason = acts.initials(amendment.by, "who"), acts.readable(amendment.reason, "the reason")
    event = acts.amendment(
        record,
        datetime.now(UTC),
        by=by,
        reason=reason,
        entry=amendment.entry,
        phrase=amendment.phrase,
        grammar=page.grammar,
    )
    store.append(event)
    return {"number": event.number}


@router.post("/{exam}/amendments/{number}/taking-back", status_code=201, responses=_UNKNOWN)
def take_back(exam: str, number: EventNumber, taking: TakingBack, page: ThisPage) -> dict[str, int]:
    """Undo an amendment whose entries were not changed since. Answers with the number of the amendment that does it."""
    store, record = _to_change(page, exam)
    by, reason = acts.initials(taking.by, "who"), acts.readable(taking.reason, "the reason")
    event = acts.taking_back(record, datetime.now(UTC), by=by, reason=reason, number=number)
    store.append(event)
    return {"number": event.number}


@router.get("/{exam}/entries/{entry}/phrase", responses=_UNKNOWN)
def phrase(exam: str, entry: EntryId, page: ThisPage) -> dict[str, str]:
    """A phrase that says an entry as it is now; empty where none is known."""
    return {"phrase": phrase_of(page.journal.exam(exam), entry, page.grammar)}


@router.post("/{exam}/entries", status_code=201, responses=_UNKNOWN)
def enter(exam: str, entry: NewEntry, page: ThisPage) -> dict[str, int]:
    """Enter afterwards what was heard in the exam. Answers with the number of the line."""
    store, record = _to_change(page, exam)
    added = Added(
        heard_by=acts.initials(entry.heard_by, "who heard it"),
        by=acts.initials(entry.by, "who adds it"),
        reason=acts.readable(entry.reason, "the reason"),
    )
    line = addition(
        record, datetime.now(UTC), added=added, phrase=entry.phrase, grammar=page.grammar, source="page"
    )
    store.append(line)
    return {"number": line.number}


@router.post("/{exam}/addenda", status_code=201, responses=_UNKNOWN)
def add(exam: str, addition: Addition, page: ThisPage) -> dict[str, int]:
    """Add words to an exam, also when it is attested."""
    store, record = _to_change(page, exam)
    by, text = acts.initials(addition.by, "who"), acts.readable(addition.text, "the text")
    event = acts.addendum(record, datetime.now(UTC), by=by, text=text)
    store.append(event)
    return {"number": event.number}


@router.post("/{exam}/attestations", status_code=201, responses=_UNKNOWN)
def attest(exam: str, attestation: Attestation, page: ThisPage) -> dict[str, int]:
    """Vouch for an exam; afterwards only words can be added."""
    store, record = _to_change(page, exam)
    by = acts.initials(attestation.by, "who")
    event = acts.attestation(
        record, datetime.now(UTC), by=by, despite_open_points=attestation.despite_open_points
    )
    store.append(event)
    return {"number": event.number}


@router.post("/{exam}/discarding", status_code=201, responses=_UNKNOWN)
def discard(exam: str, who: Discarding, page: ThisPage) -> dict[str, str]:
    """Erase an exam in which nothing was entered; that it was erased stays in the log."""
    _, record = _to_change(page, exam)
    if not record.is_empty:
        raise PageError("something was entered or asked in this exam: only an empty one is discarded here")
    by = acts.initials(who.by, "who")
    erase_everywhere(page.journal, exam, by=by, reason="empty: nothing was entered")
    return {"discarded": exam}


def _to_change(page: Page, exam: str) -> tuple[ExamStore, ExamRecord]:
    """The exam, opened to add to it. An exam under way has one writer: the session."""
    if page.desk is not None and not page.desk.ended and page.desk.name == exam:
        raise PageError("this exam is under way: put it right by what you say, or afterwards")
    store = page.journal.reopen(exam)
    if store.record is None:
        raise HTTPException(404, "there is no such exam")
    return store, store.record
