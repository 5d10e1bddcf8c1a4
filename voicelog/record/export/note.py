"""A referral note as plain text: what was found, what usual practice says of it with its source, and no diagnosis.

It is made to be one page of 66 lines. Comparisons that have no room are counted. Nothing else is left out, even where
that makes it longer, but remarks on the handling of drops.
"""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.entries import AcuityEntry, SpectaclesEntry, SubjectiveEntry
from voicelog.exam.entries.acuity import acuity_words
from voicelog.exam.guidance import data
from voicelog.exam.remarks import DEFERRING, Remark
from voicelog.exam.state import EYES, EyeName
from voicelog.optics import written_power
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.further import SUBJECTIVE_CODE, Further, compared, further, remarked
from voicelog.record.export.kept import Kept
from voicelog.record.export.refractions import Refraction, refractions
from voicelog.record.inert import inert
from voicelog.record.plain import labelled
from voicelog.settings import load_settings

WIDTH, LINES = 92, 66  # of A4 in letters of 9 points
_LONGEST: Final = 400  # characters of one text
_HABITS: Final = {"streak": "the streak", "meridian": "the meridian of power"}


def write(kept: Kept) -> bytes:
    """The note as a file; acuity in the notation that is set. Raises what `load_settings` raises."""
    return note(kept.exam, kept.record, load_settings().acuity_notation).encode()


def note(exam: str, record: ExamRecord, notation: Notation | None = None) -> str:
    """The note of one exam. Acuity is written in `notation`, or as it was said; lenses in the exam's cylinder form."""
    beside = [each for each in further(record) if each.code != SUBJECTIVE_CODE]
    named = [(each.about, labelled(each.name, _value(each, record, notation))) for each in beside]
    head = [*_head(exam, record)]
    for name in EYES:
        head += ["", f"{name.capitalize()} eye", *_eye(name, record)]
        head += _run_on(text for about, text in named if about == name)
    shared = _run_on(text for about, text in named if about not in EYES)
    head += ["", "Both eyes", *shared] if shared else []
    foot = [*_remarks(_for_the_reader(remarked(record))), *_open(record), *_foot()]
    between = _fitting("Compared", [each.text for each in compared(record)], LINES - len(head) - len(foot))
    return "\n".join((*head, *between, *foot)) + "\n"


def _head(exam: str, record: ExamRecord) -> Iterator[str]:
    state = record.state
    yield "REFERRAL NOTE"
    yield "What was found by streak retinoscopy. It names no diagnosis."
    yield ""
    yield "To:"
    yield "Why:"
    yield ""
    yield from _wrapped(f"Reference {record.started.reference or '(none)'}, exam {exam}")
    yield f"Examined {record.started.at:%Y-%m-%d %H:%M} UTC. {_attested(record)}"
    yield f"Working distance {state.allowance.words()}; bare directions name {_HABITS[record.started.naming]}."
    yield f"Powers in dioptres, {state.writing.form} cylinders, axes in degrees (TABO)."


def _attested(record: ExamRecord) -> str:
    if record.attested is None:
        return "Not attested."
    return f"Attested by {inert(record.attested.by, 60)}, {record.attested.at:%Y-%m-%d}."


def _eye(name: EyeName, record: ExamRecord) -> Iterator[str]:
    found = [each for each in refractions(record) if each.eye == name]
    if not found:
        yield "  retinoscopy: nothing was read"
    for each in found:
        yield from _refraction(each)
    refined = record.state.findings.last(SubjectiveEntry, name)
    if refined is not None:
        yield f"  refined result: {refined.lens.in_form(record.state.writing.form)}"


def _refraction(found: Refraction) -> Iterator[str]:
    if found.lens is None:
        yield f"  retinoscopy ({found.condition}): {found.status}, no result"
    else:
        equivalent = written_power(found.lens.spherical_equivalent_d)
        yield f"  retinoscopy ({found.condition}): {found.lens}, spherical equivalent {equivalent}"
        yield from _wrapped(f"about 95 %: {found.uncertainty}", "    ")
    for text in found.problems:
        yield from _wrapped(f"! {text}", "  ")


def _remarks(found: Sequence[Remark]) -> Iterator[str]:
    """What asks for the same stands together, with the numbers of its sources; these stand below, each once."""
    if not found:
        return
    yield ""
    yield "Remarks"
    yield from _wrapped(DEFERRING)
    together: dict[str, dict[str, list[Remark]]] = {}
    for each in found:
        together.setdefault(each.advice, {}).setdefault(each.finding, []).append(each)
    sources = {
        source: number for number, source in enumerate(dict.fromkeys(each.source for each in found), 1)
    }
    for advice, findings in together.items():
        subjects = "; ".join(_subject(finding, which) for finding, which in findings.items())
        numbers = sorted({sources[each.source] for which in findings.values() for each in which})
        named = "".join(f"[{number}]" for number in numbers)
        yield from _wrapped(f"- {subjects}: {advice} {named}", "", "  ", longest=10 * _LONGEST)
    told = "; ".join(f"[{number}] {source}" for source, number in sources.items())
    yield from _wrapped(told, "", "  ", longest=20 * _LONGEST)


def _for_the_reader(found: Iterable[Remark]) -> list[Remark]:
    """Without what is to be heeded when drops are given: whoever reads the note is told that they were."""
    handling = {each.id for each in data().remark if each.on == "drops"}
    return [each for each in found if each.id not in handling]


def _subject(finding: str, which: Sequence[Remark]) -> str:
    """A finding with the eyes that it is of."""
    eyes = [each.about for each in which if each.about is not None]
    return f"{' and '.join(eyes)} eye: {finding}" if eyes else finding


def _open(record: ExamRecord) -> Iterator[str]:
    found = (*record.attested_otherwise, *record.unresolved)
    added = [f"{each.by}, {each.at:%Y-%m-%d}: {each.text}" for each in record.addenda]
    for title, texts in (("Still open", found), ("Added afterwards", added)):
        if texts:
            yield ""
            yield title
            for text in texts:
                yield from _wrapped(f"- {text}", "", "  ")


def _foot() -> Iterator[str]:
    yield ""
    for text in CAUTIONS:
        yield from _wrapped(text)
    yield ""
    yield "Seen by:                                  Date:"


def _fitting(title: str, texts: Sequence[str], room: int) -> list[str]:
    """A section with as many of its texts as `room` lines take; how many more there are is said."""
    if not texts:
        return []
    lines = ["", title]
    for index, text in enumerate(texts):
        more = list(_wrapped(f"- {text}", "", "  "))
        left = len(texts) - index
        if len(lines) + len(more) + (left > 1) > room:
            return [*lines, f"  ... and {left} more, in the other exports"]
        lines += more
    return lines


def _run_on(texts: Iterable[str]) -> list[str]:
    """Findings one behind the other, as there are many of few words."""
    return _wrapped("; ".join(texts), "  ", "  ", longest=20 * _LONGEST)


def _value(found: Further, record: ExamRecord, notation: Notation | None) -> str:
    entry = None if found.entry is None else record.state.ledger.rows[found.entry].entry
    match entry:
        case AcuityEntry():
            return acuity_words(entry.value, notation)
        case SpectaclesEntry():
            return found.text.replace(str(entry.lens), str(entry.lens.in_form(record.state.writing.form)))
        case _:
            return found.text


def _wrapped(text: str, first: str = "", later: str | None = None, longest: int = _LONGEST) -> list[str]:
    return textwrap.wrap(
        inert(text, longest),
        WIDTH,
        initial_indent=first,
        subsequent_indent=first if later is None else later,
        break_on_hyphens=False,
    )
