"""The setting by which every estimate begins from the last visit, the spectacles or the age."""

from voicelog.exam.entries import Context, ReadingEntry, StartEntry, StartSource
from voicelog.exam.events import Act, Put, event_number
from voicelog.exam.questions import NeedsAnswer
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say


def with_start(
    state: ExamState, acts: tuple[Act, ...], context: Context, wanted: StartSource
) -> tuple[tuple[Act, ...], tuple[str, ...]]:
    """The acts, the first look's with what the estimate begins from; and why it cannot, in words.

    It is one act with the look, so that taking back the look takes back both, and saying it again begins so again. What
    was said of the start before goes first.
    """
    if wanted == "nothing" or any(
        isinstance(row.entry, ReadingEntry | StartEntry) for row in state.ledger.live
    ):
        return acts, ()
    at = next((index for index, act in enumerate(acts) if _looks(act)), None)
    if at is None:
        return acts, ()
    try:
        entry = StartEntry.from_meaning(say.EstimateStart(source=wanted), context)
    except NeedsAnswer as needed:
        return acts, (needed.question.text,)
    looked = acts[at]
    used = [change.id for act in acts for change in act.changes if isinstance(change, Put)]
    put = Put(id=_next_id(used), entry=entry)
    both = looked.model_copy(
        update={"changes": (*looked.changes, put), "words": f"{looked.words}; {entry.words()}"}
    )
    return (*acts[:at], both, *acts[at + 1 :]), ()


def _looks(act: Act) -> bool:
    return any(isinstance(each, Put) and isinstance(each.entry, ReadingEntry) for each in act.changes)


def _next_id(used: list[str]) -> str:
    """The id behind those of the same event that are in use."""
    number = event_number(used[-1])
    last = int(used[-1].partition(".")[2] or 1)
    return f"{number}.{last + 1}"
