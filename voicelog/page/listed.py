"""The review's list: exams with open points first, all others by day, a page at a time; found by reference and day."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby
from typing import Final, Literal
from urllib.parse import urlencode

from voicelog.errors import VoicelogError
from voicelog.record.inert import inert
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted, between
from voicelog.record.overviews import Overview, unescaped
from voicelog.record.showing import local_time

ON_A_PAGE: Final = 50
OPEN_SHOWN: Final = 20  # with open points, before all others; the rest of them stand on pages of their own
Which = Literal["all", "open", "settled"]


@dataclass(frozen=True, slots=True)
class Sought:
    """What is looked for, as it was typed; `page` counts from 1."""

    reference: str = ""
    since: str = ""
    until: str = ""
    which: Which = "all"
    page: int = 1

    @property
    def is_narrowed(self) -> bool:
        """Whether some exams are left out."""
        return replace(self, page=1) != Sought()

    def address(self, page: int) -> str:
        """Another page of the same."""
        given = {"reference": self.reference, "since": self.since, "until": self.until}
        given |= {"which": "" if self.which == "all" else self.which, "page": str(page) if page > 1 else ""}
        query = urlencode({name: text for name, text in given.items() if text})
        return f"/review?{query}" if query else "/review"


@dataclass(frozen=True, slots=True)
class Listed:
    """One exam in the list; `day` is local, `time` the time of that day."""

    id: str
    day: str
    time: str
    reference: str
    right: str
    left: str
    state: str
    open: bool


@dataclass(frozen=True, slots=True)
class Day:
    """The exams of one day, newest first."""

    name: str
    exams: tuple[Listed, ...]


@dataclass(frozen=True, slots=True)
class ExamList:
    """One page. `more_open`, `newer` and `older` are addresses, empty where there is nothing."""

    open: tuple[Listed, ...] = ()
    days: tuple[Day, ...] = ()
    more_open: str = ""
    newer: str = ""
    older: str = ""


def narrowed(sought: Sought, limit: int) -> Wanted:
    """The newest exams, `limit` of them, of the days and the reference that are looked for.

    Raises VoicelogError for a day that is none.
    """
    since, until = between(_day(sought.since, "from"), _day(sought.until, "to"))
    return Wanted(since=since, until=until, reference=sought.reference or None, limit=limit)


def exam_list(journal: Journal, sought: Sought) -> ExamList:
    """What is looked for. Raises RecordError, and VoicelogError for a day that is none."""
    wanted = narrowed(sought, ON_A_PAGE + 1)
    first: list[Overview] = []
    if sought.which == "all" and sought.page == 1:
        first = journal.overviews(replace(wanted, to_do=True, limit=OPEN_SHOWN + 1))
    skip = (sought.page - 1) * ON_A_PAGE
    rest = journal.overviews(replace(wanted, to_do=sought.which == "open", skip=skip))
    shown = [_listed(each) for each in rest[:ON_A_PAGE]]
    return ExamList(
        open=tuple(_listed(each) for each in first[:OPEN_SHOWN]),
        days=tuple(_days(shown)),
        more_open=replace(sought, which="open").address(1) if len(first) > OPEN_SHOWN else "",
        newer=sought.address(sought.page - 1) if sought.page > 1 else "",
        older=sought.address(sought.page + 1) if len(rest) > ON_A_PAGE else "",
    )


def _day(text: str, which: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise VoicelogError(f"{which} {inert(text, 20)!r}: write a day as 2026-03-31") from None


def _days(exams: list[Listed]) -> Iterator[Day]:
    for day, of_day in groupby(exams, key=lambda each: each.day):
        yield Day(_named(day), tuple(of_day))


def _named(day: str) -> str:
    """ "Wednesday 4 March 2026"."""
    found = date.fromisoformat(day)
    return f"{found:%A} {found.day} {found:%B %Y}"


def _listed(found: Overview) -> Listed:
    day, _, time = local_time(datetime.fromisoformat(found.started_at)).partition(" ")
    is_open = bool(found.unresolved) and found.attested_by is None
    state = "open points" if is_open else "complete"
    if found.attested_by is not None:
        state = f"signed off by {inert(unescaped(found.attested_by))}"
    return Listed(
        id=found.id,
        day=day,
        time=time,
        reference=inert(unescaped(found.reference), 60),
        right=found.right_result or found.right_status,
        left=found.left_result or found.left_status,
        state=state,
        open=is_open,
    )
