"""The record as data: list, one exam, its exports, and what is done to it afterwards."""

from datetime import UTC, datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, HTTPException, Path, Query
from pydantic import AfterValidator, BaseModel, Field
from starlette.responses import Response

from voicelog.page.access import PageError
from voicelog.page.context import Page, ThisPage
from voicelog.record import acts
from voicelog.record.exams import ExamRecord
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.journal import ExamStore
from voicelog.record.listing import Wanted
from voicelog.record.overviews import unescaped

router = APIRouter(prefix="/api/exams", tags=["record"])

_UNKNOWN: Final[dict[int | str, dict[str, Any]]] = {
    400: {"description": "it cannot be done; the answer says why"},
    404: {"description": "there is no such exam"},
}


def _known(name: str) -> str:
    if name not in FORMATS:
        raise ValueError(f"the formats are {', '.join(FORMATS)}")
    return name


FormatName = Annotated[str, Path(json_schema_extra={"enum": list(FORMATS)}), AfterValidator(_known)]
Initials = Annotated[str, Field(min_length=1, max_length=20)]
Text = Annotated[str, Field(min_length=1, max_length=2000)]


class Amendment(BaseModel):
    """An entry ("12"; "12.2" for the second of a line) is put right; `phrase` None takes it out."""

    by: Initials
    reason: Text
    entry: Annotated[str, Field(pattern=r"^[0-9]{1,6}(\.[0-9]{1,3})?$")]
    phrase: Annotated[str, Field(min_length=1, max_length=200)] | None = None


class Addition(BaseModel):
    """Words that change no entry."""

    by: Initials
    text: Text


class Attestation(BaseModel):
    """Somebody vouches for the exam as it stands."""

    by: Initials
    despite_open_points: bool = False


@router.get("")
def exams(
    page: ThisPage,
    reference: Annotated[str | None, Query(max_length=200)] = None,
    unresolved: bool = False,
    limit: Annotated[int, Query(ge=1, le=1000)] = 50,
) -> list[dict[str, Any]]:
    """The newest exams; `reference` is a part of the practice's own reference."""
    wanted = Wanted(reference=reference, unresolved=unresolved, limit=limit)
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


@router.get("/{exam}/exports/{form}", responses=_UNKNOWN, response_class=Response)
def export(exam: str, form: FormatName, page: ThisPage) -> Response:
    """One exam as a file: FHIR R4, CSV, JSON, or a report to print (PDF)."""
    wanted = FORMATS[form]
    content = exported(page.journal, exam, wanted)
    named = f'attachment; filename="{exam}.{wanted.ending}"'
    return Response(content, media_type=wanted.media_type, headers={"content-disposition": named})


@router.post("/{exam}/amendments", status_code=201, responses=_UNKNOWN)
def amend(exam: str, amendment: Amendment, page: ThisPage) -> dict[str, int]:
    """Put one entry right, or take it out, with a reason. Answers with the number of the amendment."""
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


def _to_change(page: Page, exam: str) -> tuple[ExamStore, ExamRecord]:
    """The exam, opened to add to it. An exam under way has one writer: the session."""
    if page.desk is not None and not page.desk.ended and page.desk.name == exam:
        raise PageError("this exam is under way: put it right by what you say, or afterwards")
    store = page.journal.reopen(exam)
    if store.record is None:
        raise HTTPException(404, "there is no such exam")
    return store, store.record
