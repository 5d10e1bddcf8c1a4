"""One power for a span that was said ("between two and two and a half"), and what is no answer to its question."""

from voicelog.exam.questions import Question
from voicelog.phrases import meanings as say


def within_span(candidate: say.Meaning, power: say.Power) -> say.Power:
    """The power with the sign of the span that it lies in ("between two and two and a half plus")."""
    span = candidate.between if isinstance(candidate, say.Reading) else None
    if span is None or power.sign is not None or not power.size_d:
        return power
    sizes = [end.size_d for end in span if end.size_d is not None]
    inside = len(sizes) == 2 and min(sizes) <= power.size_d <= max(sizes)
    return (
        power.with_sign(span[0].sign) if inside and span[0].sign == span[1].sign and span[0].sign else power
    )


def is_of_now(question: Question, meaning: say.Meaning) -> bool:
    """Whether what is said no longer answers a question once something was entered after it.

    A motion alone is of what is looked at now, and a power outside the span that was asked about of what is there now.
    """
    if question.missing == "motion" and isinstance(meaning, say.Reading):
        return meaning.where is None and meaning.lens is None
    return _is_outside_span(question, meaning)


def _is_outside_span(question: Question, meaning: say.Meaning) -> bool:
    """Whether a power does not lie in the span that is asked about, its ends included."""
    candidate = question.candidate
    if not isinstance(candidate, say.Reading) or candidate.between is None:
        return False
    ends = [end.dioptres for end in candidate.between if end.dioptres is not None]
    size_d = within_span(candidate, meaning.power).dioptres if isinstance(meaning, say.LoosePower) else None
    return len(ends) == 2 and size_d is not None and not min(ends) <= size_d <= max(ends)
