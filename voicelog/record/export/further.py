"""What an exam found beside the refractions of retinoscopy, in the one form that all exports share.

Every finding of the ledger is here by what its kind says of itself; beside them stand those that several entries make
together. Codes, names and numbers are listed in docs/record.md.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from voicelog.exam.comparisons import comparisons
from voicelog.exam.differences import Comparison
from voicelog.exam.entries import AcuityEntry, BaseFinding, PupillaryDistanceEntry, Quantity, SubjectiveEntry
from voicelog.exam.entries.prescription import lens_quantities
from voicelog.exam.findings import Found
from voicelog.exam.near import DarkResult
from voicelog.exam.passes import apart
from voicelog.exam.remarks import Remark, exam_remarks
from voicelog.exam.state import EYES, EyeName
from voicelog.phrases.meanings import Eyes
from voicelog.record.exams import ExamRecord
from voicelog.record.export.refractions import refractions

SUBJECTIVE_CODE: Final = "refined-refraction"


@dataclass(frozen=True, slots=True)
class Further:
    """One finding. `about` None: it belongs to no eye. `entry` None: several entries make it.

    `each` tells that others of its code stand beside it; without it, the last one took the place of those before.
    """

    code: str
    about: Eyes | None
    name: str
    text: str
    quantities: tuple[Quantity, ...] = ()
    entry: str | None = None
    at: datetime | None = None
    each: bool = False


def further(record: ExamRecord) -> tuple[Further, ...]:
    """Everything found beside retinoscopy: the right eye's, the left's, then the rest, in the order it was said."""
    found = [*(_found(record, each) for each in record.state.findings.found), *_worked_out(record)]
    order: dict[Eyes | None, int] = {name: place for place, name in enumerate(EYES)}
    return tuple(sorted(found, key=lambda each: order.get(each.about, len(order))))


def compared(record: ExamRecord) -> tuple[Comparison, ...]:
    """The comparisons that the exam allows."""
    return comparisons(record.state)


def remarked(record: ExamRecord) -> tuple[Remark, ...]:
    """The remarks that the exam calls for."""
    return exam_remarks(record.state)


def code_of(entry: BaseFinding) -> str:
    """The code of a finding in exports; those that files of ours have carried before stay what they were."""
    match entry:
        case AcuityEntry(correction="refined"):
            return "acuity-refined"
        case PupillaryDistanceEntry(at=at):
            return f"pupils-distance-{at}"
        case SubjectiveEntry():
            return SUBJECTIVE_CODE
        case _:
            return entry.export_code


def _found(record: ExamRecord, found: Found) -> Further:
    """A finding of the ledger. Where each by itself counts, the time at which it was said is part of it."""
    entry, said = found.entry, record.lines.get(found.number)
    at = None if said is None or said.added is not None else said.at
    noted = f", noted {at:%H:%M} UTC" if at is not None and entry.slot is None else ""
    return Further(
        code=code_of(entry),
        about=entry.about,
        name=entry.label.rstrip(","),
        text=f"{entry.value_words()}{noted}",
        quantities=entry.quantities(),
        entry=found.id,
        at=at,
        each=entry.slot is None,
    )


def _worked_out(record: ExamRecord) -> Iterator[Further]:
    for each in refractions(record):
        if each.mean is not None:
            parts = (
                Quantity("count", each.mean.count, "1"),
                Quantity("spread", round(each.mean.spread_d, 3), "[diop]"),
                Quantity("furthest", round(each.mean.furthest_d, 3), "[diop]"),
            )
            text = f"mean of {each.mean.count} passes ({each.condition}), {apart(each.mean)}"
            yield Further("passes", each.eye, "retinoscopy repeated", text, parts, each=True)
    for name in EYES:
        dark = record.state.near[name].dark
        if dark is not None:
            yield _dark(name, dark)


def _dark(name: EyeName, found: DarkResult) -> Further:
    parts = () if found.net is None else lens_quantities(found.net)
    size = Quantity("adjustment", found.adjustment.taken_off_d, "[diop]")
    return Further("near-in-the-dark", name, "near retinoscopy in the dark", found.text, (*parts, size))
