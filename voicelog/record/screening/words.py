"""A screened list as lines for the terminal, as a table (CSV) and as plain data."""

import csv
import io
from collections.abc import Iterator
from typing import Any, Final

from voicelog.exam.age_verdicts import sources_of
from voicelog.exam.remarks import DEFERRING
from voicelog.exam.state import EYES
from voicelog.exam.summary import lens_summary
from voicelog.record.chain import utc_text
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.table import cell
from voicelog.record.screening.outcomes import EyeOutcome, Outcome, Screening

NOTES: Final = (
    "A child above a limit is to be examined further. One that is above none may still have eyes that are not healthy.",
    "The guidelines of 2021 set other limits: higher for astigmatism, lower for a difference between the eyes. Their "
    "figures could not be read, so they are not in the log. Where your local rules follow them, those hold.",
    "Without cycloplegia more plus may be hidden than was found.",  # common practice, no source
    DEFERRING,
    *CAUTIONS,
)
_ORDER: Final = (
    "above",
    "perhaps above",
    "incomplete",
    "not above",
    "no limit at this age",
    "age not known",
)


def lines(found: Screening) -> Iterator[str]:
    """Each child in the order of the list, then who is open, what could not be used, sources and cautions."""
    for each in found.outcomes:
        yield from _child(each)
    yield ""
    yield from _open(found)
    for name, texts in (("not on the list", found.unlisted), ("not used", found.problems)):
        for text in texts:
            yield f"{name}: {text}"
    for guideline in found.guidelines:
        for source in sources_of(guideline):
            yield f"limits of {guideline}: {source}"
    yield from NOTES


def _child(found: Outcome) -> Iterator[str]:
    age = "age not known" if found.age is None else found.age.value_words()
    listed = found.child.age
    differs = f" (the list has {listed.value_words()})" if listed is not None and found.age_differs else ""
    yield f"{found.child.reference}, {age}{differs}: {_standing(found)}"
    if not found.exam:
        return
    more = f", {found.others} more on the record" if found.others else ""
    yield f"  {'; '.join(f'{each.eye} {each.words}' for each in found.eyes)} (exam {found.exam}{more})"
    for each in found.verdicts:
        if each.above:
            yield f"  {each.outcome} limits of {each.guideline}: {'; '.join(each.above)}"
        else:
            yield f"  limits of {each.guideline}: {each.outcome}"
    for text in found.remarks:
        yield f"  remark: {text}"


def _standing(found: Outcome) -> str:
    """In a word or two: what is above a limit comes before what is lacking."""
    if not found.exam:
        return found.progress
    told = min((each.outcome for each in found.verdicts), key=_ORDER.index, default=found.progress)
    parts = [told] if found.progress == "complete" else list(dict.fromkeys((told, found.progress)))
    return ", ".join(_SHORT.get(each, each) for each in parts)


_SHORT: Final = {
    "above": "ABOVE A LIMIT",
    "perhaps above": "PERHAPS ABOVE A LIMIT",
    "incomplete": "INCOMPLETE",
    "not above": "above no limit",
}


def _open(found: Screening) -> Iterator[str]:
    count = len(found.done)
    yield f"{count} of {len(found.outcomes)} complete"
    for progress in ("incomplete", "not examined"):
        names = [each.child.reference for each in found.outcomes if each.progress == progress]
        if names:
            yield f"{progress}: {', '.join(names)}"


def as_data(found: Screening) -> dict[str, Any]:
    """Plain data: ages in years and months as they were given, lenses in dioptres and degrees."""
    return {
        "children": [_data(each) for each in found.outcomes],
        "complete": len(found.done),
        "unlisted": list(found.unlisted),
        "problems": list(found.problems),
        "sources": {each: list(sources_of(each)) for each in found.guidelines},
        "notes": list(NOTES),
    }


def _data(found: Outcome) -> dict[str, Any]:
    return {
        "line": found.child.line,
        "reference": found.child.reference,
        "age": _age(found),
        "age_differs_from_list": found.age_differs,
        "progress": found.progress,
        "exam": found.exam or None,
        "begun_at": None if found.at is None else utc_text(found.at),
        "exams_beside": found.others,
        "eyes": {each.eye: _eye(each) for each in found.eyes},
        "limits": {
            each.guideline: {"outcome": each.outcome, "above": list(each.above)} for each in found.verdicts
        },
        "remarks": list(found.remarks),
    }


def _age(found: Outcome) -> dict[str, int | None] | None:
    return None if found.age is None else {"years": found.age.years, "months": found.age.months}


def _eye(found: EyeOutcome) -> dict[str, Any] | None:
    if found.lens is None:
        return None
    return {"method": found.method, "condition": found.condition} | lens_summary(found.lens)


def table(found: Screening) -> str:
    """CSV (RFC 4180), a row a child; every row has the cautions. Formulas are made harmless as in an exam's table."""
    of_eye = ("sphere_d", "cylinder_d", "axis_deg", "method", "condition")
    columns = [
        *("line", "reference", "years", "months", "progress", "exam", "begun_at"),
        *(f"{name}_{part}" for name in EYES for part in of_eye),
        *(f"limits_{each}" for each in found.guidelines),
        *("remarks", "cautions"),
    ]
    file = io.StringIO()
    writer = csv.DictWriter(file, columns, lineterminator="\r\n")
    writer.writeheader()
    for each in found.outcomes:
        writer.writerow({name: cell(value) for name, value in _row(each).items()})
    return file.getvalue()


def _row(found: Outcome) -> dict[str, Any]:
    row: dict[str, Any] = {
        "line": found.child.line,
        "reference": found.child.reference,
        "years": found.age and found.age.years,
        "months": found.age and found.age.months,
        "progress": found.progress,
        "exam": found.exam,
        "begun_at": "" if found.at is None else utc_text(found.at),
        "remarks": "; ".join(found.remarks),
        "cautions": " ".join(NOTES),
    }
    for each in found.eyes:
        if each.lens is not None:
            parts = (each.lens.sphere_d, each.lens.cylinder_d, each.lens.axis_deg)
            names = ("sphere_d", "cylinder_d", "axis_deg", "method", "condition")
            values = (*parts, each.method, each.condition)
            row |= {f"{each.eye}_{name}": value for name, value in zip(names, values, strict=True)}
    for told in found.verdicts:
        row[f"limits_{told.guideline}"] = ": ".join(
            part for part in (told.outcome, "; ".join(told.above)) if part
        )
    return row
