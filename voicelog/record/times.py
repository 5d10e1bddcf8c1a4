"""Times of events never go back within an exam, whatever the computer's clock does."""

from voicelog.exam.events import Line
from voicelog.exam.state import ExamState
from voicelog.record.chain import utc_text
from voicelog.record.errors import CannotFollowError
from voicelog.record.events import RecordEvent
from voicelog.record.exams import ExamRecord


def in_time(
    record: ExamRecord | None, event: RecordEvent, state: ExamState | None
) -> tuple[RecordEvent, ExamState | None]:
    """An event at its own time, or at that of the event before it where the clock was set back, and the state after it.

    What is said in an exam is never refused for that. What is done to it afterwards is, for it says who vouched when:
    raises CannotFollowError.
    """
    if record is None or event.at.tzinfo is None or event.at >= (last := record.events[-1].at):
        return event, state
    if isinstance(event, Line):
        return event.model_copy(update={"at": last}), None
    now, then = utc_text(event.at)[:16], utc_text(last)[:16]
    raise CannotFollowError(f"the clock says {now}, before the exam's last event at {then}: set the clock")
