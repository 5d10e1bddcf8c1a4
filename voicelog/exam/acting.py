"""What an entry or a repair does to the ledger: one act, seldom several."""

from voicelog.exam.changing import change, exchange
from voicelog.exam.correcting import correct
from voicelog.exam.entering import enter
from voicelog.exam.entries import Context, is_enterable
from voicelog.exam.events import Act
from voicelog.exam.moving import habit, move, swap, wrong_eye
from voicelog.exam.state import ExamState
from voicelog.exam.withdrawing import keep, redo, scratch
from voicelog.phrases import meanings as say


def acts_of(
    state: ExamState, meaning: say.Meaning, context: Context, *, name: str, number: int
) -> tuple[Act, ...]:
    """The acts of what was said in event `number`; a new entry gets the id `name`. Raises NeedsAnswer, Stands."""
    match meaning:
        case say.Correction():
            return (correct(state, meaning, context, name),)
        case say.Change():
            return (change(state, meaning, context),)
        case say.NotBut(wrong=wrong, right=right):
            return (exchange(state, wrong, right, context),)
        case say.Scratch():
            return scratch(state, meaning, context, number)
        case say.Keep():
            return (keep(state, meaning, context),)
        case say.Plain(kind="redo"):
            return (redo(state),)
        case say.Plain(kind="wrong_eye") | say.Move(eye="other", scope="last", where=None):
            return (wrong_eye(state, context, name),)
        case say.Move():
            return (move(state, meaning, context, name),)
        case say.Swap():
            return (swap(state, meaning, context),)
        case say.Habit():
            return (habit(state, meaning, context, name),)
        case _ if is_enterable(meaning):
            return (enter(state, meaning, context, name),)
        case _:
            raise ValueError(f"nothing is known of {meaning.kind} here")
