"""Corrections of what was found beside the reflex: acuity, pupils, drops and the like."""

from typing import Any

from voicelog.exam.dependants import instead_of
from voicelog.exam.entries import BaseFinding, Context, DarkEntry
from voicelog.exam.entries.base import refuse
from voicelog.exam.events import Act, Replace
from voicelog.exam.ledger import Row
from voicelog.exam.state import ExamState
from voicelog.exam.targets import in_named_eye, target
from voicelog.phrases import meanings as say


def correct_finding(state: ExamState, said: Any, context: Context) -> Act:
    """The act that puts right the latest finding of its kind that has all that is named; else the latest of its kind.

    Raises NeedsAnswer.
    """

    def of_kind(row: Row) -> bool:
        same_step = getattr(said, "step", None) == getattr(row.entry, "step", None)
        return isinstance(row.entry, BaseFinding) and type(said) is type(row.entry).said and same_step

    def with_what_is_named(row: Row) -> bool:
        return of_kind(row) and _has_what_is_named(row, said, context)

    what = said.kind.replace("_", " ")
    if any(map(with_what_is_named, state.ledger.live)):
        named = getattr(said, "eye", None) is not None
        row = target(state, in_named_eye(context) if named else context, with_what_is_named, what)
    elif getattr(said, "where", None) is not None:
        raise refuse(f"there is no {what} reading of that meridian to correct")
    else:
        row = target(state, context, of_kind, what)
    entry = row.entry
    if not hasattr(entry, "corrected"):
        raise refuse(f"{entry.words()} cannot be corrected; scratch it and say it again")
    new = entry.corrected(said, context)
    return Act(
        changes=(Replace(id=row.id, entry=new),), words=f"{new.words()}, instead of {instead_of(entry, new)}"
    )


def _has_what_is_named(row: Row, said: Any, context: Context) -> bool:
    named = getattr(said, "eye", None)
    if named is not None and row.entry.about not in (named, "both"):
        return False
    if isinstance(said, say.Dark) and said.where is not None and isinstance(row.entry, DarkEntry):
        return row.entry.meridian_deg == context.meridian_deg(said.where, row.entry.eye)
    if isinstance(said, say.Pupils) and (said.look is None) != (getattr(row.entry, "look", None) is None):
        return False
    return all(
        getattr(said, part) is None or getattr(said, part) == getattr(row.entry, part, None)
        for part in ("correction", "at", "agent")
        if hasattr(said, part)
    )
