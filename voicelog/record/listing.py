"""Which exams to list, as a query that stays quick among many, and which one is meant by a name."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from sqlalchemy import Select, and_, not_, select

from voicelog.record.chain import utc_text
from voicelog.record.databases import Database
from voicelog.record.errors import NoSuchExamError
from voicelog.record.names import between_names, is_name
from voicelog.record.overviews import sought
from voicelog.record.tables import erasure as erasure_table
from voicelog.record.tables import exam as exam_table


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which exams to list; times are UTC, `since` inclusive and `until` exclusive; None asks nothing.

    `unresolved` asks for exams with open points, attested or not; `to_do` True for those that nobody attested, False
    for all but these. `skip` is how many of what fits come before.
    """

    since: datetime | None = None
    until: datetime | None = None
    reference: str | None = None
    unresolved: bool = False
    to_do: bool | None = None
    limit: int = 50
    skip: int = 0


EVERY: Final = Wanted()
_SHORTEST_START: Final = 4
_SHOWN: Final = 4  # of those that a name fits


def between(first: date | None, last: date | None) -> tuple[datetime | None, datetime | None]:
    """Days of the local clock, both inclusive, as `since` and `until`."""
    until = None if last is None or last == date.max else _midnight(last + timedelta(days=1))
    return None if first is None else _midnight(first), until


def _midnight(day: date) -> datetime:
    return datetime(
        max(day.year, 2), day.month, day.day
    ).astimezone()  # the first year has no earlier day in UTC


def listing(wanted: Wanted) -> Select[*tuple[Any, ...]]:
    """The names come from an index alone, which holds all that is asked; only then are the rows read."""
    columns = exam_table.c
    newest = (columns.started_at.desc(), columns.id.desc())
    names = select(columns.id).order_by(*newest).limit(wanted.limit).offset(wanted.skip)
    if wanted.since is not None:
        names = names.where(columns.started_at >= utc_text(wanted.since))
    if wanted.until is not None:
        names = names.where(columns.started_at < utc_text(wanted.until))
    if wanted.unresolved:
        names = names.where(columns.unresolved == 1)
    if wanted.to_do is not None:
        to_do = and_(columns.unresolved == 1, columns.attested_at.is_(None))
        names = names.where(to_do if wanted.to_do else not_(to_do))
    if wanted.reference is not None:
        names = names.where(columns.sought.contains(_searchable(wanted.reference), autoescape=True))
    return select(exam_table).where(columns.id.in_(names)).order_by(*newest)


def _searchable(reference: str) -> str:
    text = sought(reference)
    if not text:
        raise NoSuchExamError("the reference to look for has no letter, digit or sign")
    return text


def find(database: Database, named: str) -> str:
    """The exam meant by "last", its name, the start of its name, or its reference.

    Raises NoSuchExamError when that fits none, or more than one.
    """
    query = _newest() if named == "last" else _by_name(named)
    found = [] if query is None else _ids(database, query)
    if not found and named != "last" and sought(named):
        found = _ids(database, _by_reference(named))
    if not found and is_name(named):
        _say_erased(database, named)
    if not found:
        raise NoSuchExamError(f"no exam is meant by {named!r}; voicelog record list shows them")
    if len(found) > 1:
        names = ", ".join(found[:3])
        raise NoSuchExamError(f"{named!r} fits {names}{' ...' if len(found) > 3 else ''}: say which")
    return found[0]


def _say_erased(database: Database, exam: str) -> None:
    with database.reading() as connection:
        at = connection.scalars(select(erasure_table.c.at).where(erasure_table.c.exam == exam)).first()
    if at is not None:
        raise NoSuchExamError(
            f"exam {exam} was erased on {at[:10]}; voicelog record verify says by whom and why"
        )


def _newest() -> Select[str]:
    columns = exam_table.c
    return select(columns.id).order_by(columns.started_at.desc(), columns.id.desc()).limit(1)


def _by_name(named: str) -> Select[str] | None:
    """The exam of this name, or those whose names begin so; None where no name can."""
    columns = exam_table.c
    if is_name(named):
        return select(columns.id).where(columns.id == named)
    days = between_names(named)
    if len(named) < _SHORTEST_START or days is None:
        return None
    return (
        select(columns.id)
        .where(columns.id >= days[0], columns.id < days[1], columns.id.startswith(named, autoescape=True))
        .order_by(columns.id.desc())
    )


def _by_reference(named: str) -> Select[str]:
    return (
        select(exam_table.c.id).where(exam_table.c.sought == sought(named)).order_by(exam_table.c.id.desc())
    )


def _ids(database: Database, query: Select[str]) -> Sequence[str]:
    with database.reading() as connection:
        return connection.scalars(query).all()
