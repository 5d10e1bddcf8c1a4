"""An entry that was heard or seen in the exam but entered afterwards: a line with who heard it and who adds it."""

from dataclasses import replace
from datetime import datetime

from voicelog.errors import VoicelogError
from voicelog.exam.breath import Reply
from voicelog.exam.events import Act, Added, Dialogue, Line, Source
from voicelog.exam.exchange import respond
from voicelog.phrases import meanings as say
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.lines import TYPED, reader_of
from voicelog.record.exams import ExamRecord

_MOST_DOUBTS = 8


def addition(
    record: ExamRecord, at: datetime, *, added: Added, phrase: str, grammar: Grammar, source: Source = "typed"
) -> Line:
    """The line that enters a typed `phrase`; it names its eye, and distance, lens and mirror are the exam's last.

    What only needs a yes is taken as said: it was weighed before it was typed. Raises VoicelogError for what is not
    understood, or would have to be asked, or changes what is there: that is amended.
    """
    understood = reader_of(grammar, LINE_RULE, *TYPED).understand(phrase)
    if len(understood.readings) > 1:
        raise VoicelogError(f"{phrase!r} can mean more than one thing: say it in full")
    reply, acts = _answered(record, understood.readings[0])
    if reply.question is not None:
        raise VoicelogError(f"{phrase!r}: {reply.question.text}")
    if reply.outcome != "accepted" or not acts:
        raise VoicelogError(f"{phrase!r} enters nothing: {reply.text}")
    if any(change.op != "put" for act in acts for change in act.changes):
        raise VoicelogError(f"{phrase!r} changes what was entered: amend that entry")
    return Line(
        number=record.next_number,
        at=at,
        source=source,
        text=understood.text,
        meanings=understood.readings[0],
        outcome="accepted",
        acts=acts,
        replies=tuple(act.words for act in acts),
        added=added,
    )


def _answered(record: ExamRecord, meanings: tuple[say.Meaning, ...]) -> tuple[Reply, tuple[Act, ...]]:
    """What the exchange makes of it with no eye in hand, no question open and every doubt laid to rest."""
    standing = replace(record.state.standing, eye=None)
    state = replace(record.state, standing=standing, dialogue=Dialogue(), trail=None)
    reply = respond(state, meanings, number=record.next_number)
    acts = reply.acts
    for _ in range(_MOST_DOUBTS):
        if reply.question is None or reply.question.missing != "confirm" or reply.after is None:
            break
        reply = respond(reply.after, (say.Answer(answer="yes"),), number=record.next_number)
        acts += reply.acts
    return reply, acts
