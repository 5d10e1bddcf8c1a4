"""What the exams of each child of a list come to. Worked out each time from the record, and never kept."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from voicelog.exam.age_limits import noted_age
from voicelog.exam.age_verdicts import Verdict, is_complete, results_of, verdict
from voicelog.exam.comparisons import REFINED, refractions
from voicelog.exam.entries import AgeEntry, Dryness
from voicelog.exam.guidance import Guideline, data
from voicelog.exam.remarks import exam_remarks
from voicelog.exam.state import EYES, ExamState, EyeName
from voicelog.optics import SpheroCylinder
from voicelog.record.errors import RecordError
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted
from voicelog.record.screening.roster import Child, Roster

Progress = Literal["complete", "incomplete", "not examined"]
Kept = tuple[str, ExamRecord]
"""An exam's name, and the exam."""


@dataclass(frozen=True, slots=True)
class EyeOutcome:
    """One eye's result, dioptres and degrees. `condition` None: a refined result, which is of no condition."""

    eye: EyeName
    lens: SpheroCylinder | None = None
    method: Literal["retinoscopy", "refined"] = "retinoscopy"
    condition: Dryness | None = None

    @property
    def words(self) -> str:
        """ "+4.50 -0.50 x 090 (wet)", "no result"."""
        if self.lens is None:
            return "no result"
        return f"{self.lens} ({self.condition or self.method})"


@dataclass(frozen=True, slots=True)
class Outcome:
    """One child. `exam` is the one that counts, `others` how many more there are; `remarks` are those beside limits."""

    child: Child
    progress: Progress
    age: AgeEntry | None = None
    exam: str = ""
    at: datetime | None = None
    eyes: tuple[EyeOutcome, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    remarks: tuple[str, ...] = ()
    others: int = 0

    @property
    def age_differs(self) -> bool:
        """Whether another age was said in the exam than the list has."""
        return self.age != self.child.age and self.child.age is not None


@dataclass(frozen=True, slots=True)
class Screening:
    """A whole list. `unlisted` are references of exams that are not on it; `problems` what could not be used."""

    guidelines: tuple[Guideline, ...]
    outcomes: tuple[Outcome, ...]
    unlisted: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def done(self) -> tuple[str, ...]:
        """The references of those who need not be called again."""
        return tuple(each.child.reference for each in self.outcomes if each.progress == "complete")


def screening(
    journal: Journal, roster: Roster, guidelines: Sequence[Guideline], since: datetime | None
) -> Screening:
    """The list against the exams of the record that began at `since` or later."""
    found: dict[str, list[Kept]] = {}
    unlisted: dict[str, None] = {}
    problems = list(roster.problems)
    listed = {each.key for each in roster.children}
    for each in journal.overviews(Wanted(since=since, limit=max(1, journal.count()))):
        if each.sought not in listed:
            unlisted[each.reference or "(none)"] = None
            continue
        try:
            found.setdefault(each.sought, []).append((each.id, journal.exam(each.id)))
        except RecordError as error:
            problems.append(f"exam {each.id} cannot be read: {error}")
    outcomes = tuple(outcome(each, found.get(each.key, ()), guidelines) for each in roster.children)
    return Screening(tuple(guidelines), outcomes, tuple(sorted(unlisted)), tuple(problems))


def outcome(child: Child, exams: Iterable[Kept], guidelines: Sequence[Guideline]) -> Outcome:
    """One child by the last complete exam; without one by the last that has a result, or else by the last begun.

    Exams in which nothing counts any more, as those that were discarded, are none. Exams are never put together.
    """
    begun = [each for each in exams if each[1].state.ledger.live]
    if not begun:
        return Outcome(child, "not examined", child.age)
    exam, record = max(begun, key=lambda each: (_worth(each[1].state), each[1].started.at))
    state = record.state
    return Outcome(
        child,
        "complete" if is_complete(state) else "incomplete",
        noted_age(state) or child.age,
        exam,
        record.started.at,
        _eyes(state),
        tuple(verdict(state, each, child.age) for each in guidelines),
        tuple(_remarks(state)),
        len(begun) - 1,
    )


def _worth(state: ExamState) -> int:
    return len(results_of(state))


def _eyes(state: ExamState) -> tuple[EyeOutcome, ...]:
    found, refined = results_of(state), refractions(state, REFINED)
    return tuple(
        EyeOutcome(name, found.get(name), "refined")
        if name in refined
        else EyeOutcome(name, found.get(name), condition=state.eyes[name].result_condition)
        for name in EYES
    )


_BY_AGE: Final = "age_not_noted"


def _remarks(state: ExamState) -> Iterable[str]:
    """What the exam calls for beside limits by age: these are held against the list's own age."""
    by_age = {each.id for each in data().age_limit} | {_BY_AGE}
    return dict.fromkeys(each.text for each in exam_remarks(state) if each.id not in by_age)
