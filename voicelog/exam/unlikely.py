"""What makes a heard entry worth a question although the recogniser was sure: the exam's own knowledge.

It may only make the log ask; it never changes a value, and typed entries are not asked about.
"""

from voicelog.exam.ledger import CannotCorrectError
from voicelog.exam.state import ExamState, with_entry
from voicelog.phrases import meanings as say


def unlikely(state: ExamState, meaning: say.Meaning) -> str | None:
    """Why a heard meaning should be confirmed, in words: it cannot be true together with what was logged."""
    if state.eye is None or not isinstance(meaning, say.Reading | say.Correction | say.Change | say.NotBut):
        return None
    known = _contradictions(state)
    try:
        new = [text for text in _contradictions(with_entry(state, meaning)) if text not in known]
    except CannotCorrectError:
        return None
    return new[0] if new else None


def _contradictions(state: ExamState) -> list[str]:
    if state.eye is None:
        return []
    return [problem.text for bounds in state.eyes[state.eye].bounds for problem in bounds.problems]
