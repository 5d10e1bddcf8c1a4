"""The review's pages: the list, one exam, and its print view."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from voicelog.errors import VoicelogError
from voicelog.exam.entries import Dryness
from voicelog.page import rendering
from voicelog.page.auditing import MOST_EXAMS, NO_AUDIT, audit_view
from voicelog.page.context import Page, ThisPage
from voicelog.page.listed import ExamList, Sought, Which, exam_list
from voicelog.page.reviewing import ExamReview, exam_review
from voicelog.record.errors import NoSuchExamError, RecordError
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.formats import FORMATS
from voicelog.record.journal import Journal
from voicelog.record.visits import Course, courses, exams_of

router = APIRouter(include_in_schema=False)


@router.get("/review")
def exams(
    request: Request,
    page: ThisPage,
    reference: Annotated[str, Query(max_length=200)] = "",
    since: Annotated[str, Query(max_length=20)] = "",
    until: Annotated[str, Query(max_length=20)] = "",
    which: Which = "all",
    at: Annotated[int, Query(alias="page", ge=1, le=10**6)] = 1,
) -> Response:
    """The exams that were kept: those with open points first."""
    problem, found = "", ExamList()
    sought = Sought(reference.strip(), since.strip(), until.strip(), which, at)
    try:
        found = exam_list(page.journal, sought)
    except VoicelogError as error:
        problem = str(error)
    return rendering.page(request, "exams.html", kind="review", exams=found, sought=sought, problem=problem)


@router.get("/audit")
def audit(
    request: Request,
    page: ThisPage,
    reference: Annotated[str, Query(max_length=200)] = "",
    since: Annotated[str, Query(max_length=20)] = "",
    until: Annotated[str, Query(max_length=20)] = "",
    condition: Dryness = "dry",
) -> Response:
    """Retinoscopy against the refined result, over the exams that are chosen."""
    problem, found = "", NO_AUDIT
    sought = Sought(reference.strip(), since.strip(), until.strip())
    try:
        found = audit_view(page.journal, sought, condition)
    except VoicelogError as error:
        problem = str(error)
    return rendering.page(
        request,
        "audit.html",
        kind="review",
        audit=found,
        sought=sought,
        condition=condition,
        most=MOST_EXAMS,
        problem=problem,
    )


@router.get("/review/{exam}")
def one_exam(request: Request, exam: str, page: ThisPage) -> Response:
    """One exam."""
    return _one(request, exam, page, "exam.html")


@router.get("/review/{exam}/print")
def print_view(request: Request, exam: str, page: ThisPage) -> Response:
    """One exam on white, without controls."""
    return _one(request, exam, page, "print.html")


def _one(request: Request, exam: str, page: Page, template: str) -> Response:
    try:
        review = _review(page, exam)
    except NoSuchExamError as error:
        return rendering.page(request, "missing.html", kind="review", status=404, problem=str(error))
    return rendering.page(
        request, template, kind="review", exam=review, cautions=CAUTIONS, formats=FORMATS.values()
    )


def _review(page: Page, exam: str) -> ExamReview:
    journal = page.journal
    under_way = page.desk is not None and not page.desk.ended and page.desk.name == exam
    record = journal.exam(exam)
    return exam_review(
        exam,
        record,
        journal.clips,
        under_way=under_way,
        notation=page.settings.acuity_notation,
        visits=_visits(journal, record),
    )


def _visits(journal: Journal, record: ExamRecord) -> tuple[Course, ...]:
    """The courses of the exam's reference, where there is more than this exam."""
    if not record.started.reference.strip():
        return ()
    try:
        found = list(exams_of(journal, record.started.reference))
    except RecordError:  # an exam beside this one that cannot be read never stops this one from being seen
        return ()
    return courses(found) if len(found) > 1 else ()
