"""Putting an entry right after the exam: by its number, with a reason; the entry as it was stays in the ledger."""

from dataclasses import replace

from voicelog.exam.ledger import CannotCorrectError, Ledger, Line, mended_finding
from voicelog.exam.mending import FINDINGS
from voicelog.exam.state import ExamState
from voicelog.phrases.meanings import Meaning, Reading
from voicelog.record.errors import CannotFollowError
from voicelog.record.events import Amended


def amended(state: ExamState, amendment: Amended) -> ExamState:
    """The state with one entry put right, or taken out.

    Raises CannotFollowError when the exam has no such entry, or when the new meaning is of another kind.
    """
    line = live_line(state, amendment.entry)
    meaning = amendment.meaning
    if meaning is not None and type(meaning) is not type(line.meaning):
        kind = line.meaning.kind.replace("_", " ")
        article = "an" if kind[0] in "aeiou" else "a"
        other = meaning.kind.replace("_", " ")
        raise CannotFollowError(f"entry {amendment.entry} is {article} {kind} entry, not {other}")
    ledger = _applied(state.ledger, amendment)
    # Ledgers before each act are what "scratch that" goes back to; it must not bring the old value back.
    before = tuple(_applied(each, amendment) for each in state.ledger.before)
    return replace(state, ledger=replace(ledger, before=before))


def live_line(state: ExamState, number: int) -> Line:
    """The entry with that number, if it counts. Raises CannotFollowError otherwise."""
    for line in state.ledger.live:
        if line.number == number:
            return line
    if any(line.number == number for line in state.ledger.lines):
        raise CannotFollowError(
            f"entry {number} is a correction or was taken back; amend the entry that counts"
        )
    raise CannotFollowError(f"there is no entry {number}; voicelog record show lists them")


def filled_in(meaning: Meaning, line: Line) -> Meaning:
    """What is left unsaid stays as in the entry it stands for, as in a spoken correction.

    Raises CannotFollowError when a cylinder is put right without an axis where there was none.
    """
    old = line.meaning
    if isinstance(meaning, FINDINGS) and type(meaning) is type(old):
        try:
            return mended_finding(meaning, old)
        except CannotCorrectError as error:
            raise CannotFollowError(str(error)) from None
    if not isinstance(meaning, Reading) or not isinstance(old, Reading):
        return meaning
    return meaning.model_copy(update={"where": meaning.where or old.where, "lens": meaning.lens or old.lens})


def _applied(ledger: Ledger, amendment: Amended) -> Ledger:
    return replace(ledger, lines=tuple(_line(each, amendment) for each in ledger.lines))


def _line(line: Line, amendment: Amended) -> Line:
    if line.number != amendment.entry:
        return line
    if amendment.meaning is None:
        return replace(line, state="withdrawn", corrected_by=amendment.number)
    return replace(line, meaning=amendment.meaning, state="corrected", corrected_by=amendment.number)
