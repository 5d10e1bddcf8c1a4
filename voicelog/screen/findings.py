"""Findings beside the readings as a short labelled list, whatever kinds there are. Pure."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import timedelta

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.entries import AcuityEntry, DropsEntry
from voicelog.exam.entries.acuity import acuity_words
from voicelog.exam.findings import Found
from voicelog.exam.state import EYES, ExamState
from voicelog.phrases.meanings import Eyes


@dataclass(frozen=True, slots=True)
class Labelled:
    """One finding: whose it is (None: of no eye), what it is, and its value in words."""

    eye: Eyes | None
    label: str
    text: str


def labelled_findings(state: ExamState, notation: Notation | None = None) -> tuple[Labelled, ...]:
    """Everything found beside the readings, in the order it was said, and what near retinoscopy comes to.

    Acuity is written in `notation`, by default as it was said.
    """
    return (*(_labelled(state, each, notation) for each in state.findings.found), *_worked_out(state))


def _labelled(state: ExamState, found: Found, notation: Notation | None) -> Labelled:
    entry = found.entry
    text = entry.value_words()
    if isinstance(entry, AcuityEntry):
        text = acuity_words(entry.value, notation)
    elif isinstance(entry, DropsEntry) and entry.clock is None:
        given_at = state.event(found.number).at - timedelta(minutes=entry.minutes_ago or 0)
        text = f"{entry.given}, at {given_at.astimezone():%H:%M}"
    return Labelled(entry.about, entry.label, text)


def _worked_out(state: ExamState) -> Iterator[Labelled]:
    for name in EYES:
        dark = state.near[name].dark
        if dark is not None:
            yield Labelled(name, "in the dark", dark.text)


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One kind of finding: what was found of each eye, and of both or of none, in the order it was said."""

    label: str
    right: tuple[str, ...]
    left: tuple[str, ...]
    both: tuple[str, ...]


def finding_rows(found: Iterable[Labelled]) -> tuple[FindingRow, ...]:
    """Findings as a table, a row for each kind in the order in which the kinds came up."""
    by_label: dict[str, list[Labelled]] = {}
    for each in found:
        by_label.setdefault(each.label.strip(", "), []).append(each)
    return tuple(
        FindingRow(
            label,
            right=_texts(all_of, {"right"}),
            left=_texts(all_of, {"left"}),
            both=_texts(all_of, {"both", None}),
        )
        for label, all_of in by_label.items()
    )


def _texts(found: Iterable[Labelled], eyes: Collection[Eyes | None]) -> tuple[str, ...]:
    return tuple(each.text for each in found if each.eye in eyes)
