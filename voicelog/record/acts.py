"""What is done to an exam afterwards, as events that are ready to be appended: amending, attesting, adding words."""

from datetime import datetime

from voicelog.errors import VoicelogError
from voicelog.exam.events import Act
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.lines import TYPED, reader_of
from voicelog.record.amending import put_right, taken_back, taken_out
from voicelog.record.errors import CannotFollowError
from voicelog.record.events import Addendum, Amended, Attested
from voicelog.record.exams import ExamRecord, fold
from voicelog.record.inert import inert


def amendment(
    record: ExamRecord,
    at: datetime,
    *,
    by: str,
    reason: str,
    entry: str,
    phrase: str | None,
    grammar: Grammar,
) -> Amended:
    """Put the entry with an id ("12", "12.2") right by the typed `phrase`; None takes it out.

    Raises VoicelogError for a phrase that is not understood, or unclear, or of another kind than the entry.
    """
    act = taken_out(record.state, entry) if phrase is None else _act(record, entry, phrase, grammar)
    return Amended.model_validate(
        {
            "number": record.next_number,
            "at": at,
            "by": by,
            "reason": reason,
            "text": phrase or "",
            "changes": act.changes,
            "words": act.words,
        }
    )


def taking_back(record: ExamRecord, at: datetime, *, by: str, reason: str, number: int) -> Amended:
    """Undo the amendment that is event `number`. Raises CannotFollowError for another event, or one changed since."""
    amendment = record.amendments.get(number)
    if amendment is None:
        raise CannotFollowError(f"event {number} is no amendment; voicelog record show lists them")
    act = taken_back(record.state, fold(record.events[:number]).state, amendment)
    return Amended.model_validate(
        {
            "number": record.next_number,
            "at": at,
            "by": by,
            "reason": reason,
            "changes": act.changes,
            "words": act.words,
            "takes_back": number,
        }
    )


def attestation(
    record: ExamRecord, at: datetime, *, by: str, despite_open_points: bool = False, hint: str = ""
) -> Attested:
    """Vouch for the exam as it stands. Raises VoicelogError for open points, with `hint` what to do about them."""
    if record.unresolved and not despite_open_points and record.attested is None:
        points = inert("; ".join(record.unresolved), 300)
        raise VoicelogError(f"not attested, for there are open points: {points}{hint}")
    return Attested(
        number=record.next_number,
        at=at,
        by=by,
        unresolved=record.unresolved,
        right=record.written("right"),
        left=record.written("left"),
        results=record.results,
    )


def addendum(record: ExamRecord, at: datetime, *, by: str, text: str) -> Addendum:
    """Words that change no entry."""
    return Addendum(number=record.next_number, at=at, by=by, text=text)


def initials(by: str, what: str) -> str:
    """The initials of who does it. Raises VoicelogError, which calls them `what`."""
    text = readable(by, what).strip()
    if not 1 <= len(text) <= 20:
        raise VoicelogError(f"say who does this by initials, 1 to 20 characters ({what})")
    return text


def readable(text: str, what: str) -> str:
    """Text from outside that is text: bytes that are no UTF-8 arrive as lone surrogates. Raises VoicelogError."""
    if not text.strip():
        raise VoicelogError(f"{what} is empty")
    try:
        text.encode()
    except UnicodeEncodeError:
        raise VoicelogError(f"{what} is no UTF-8 text: {inert(text, 60)}") from None
    return text


def _act(record: ExamRecord, entry: str, phrase: str, grammar: Grammar) -> Act:
    """What a typed phrase makes of an entry; nothing in it may be unclear."""
    understood = reader_of(grammar, LINE_RULE, *TYPED).understand(phrase)
    if len(understood.readings) > 1:
        raise VoicelogError(f"{phrase!r} can mean more than one thing: say it in full")
    meanings = understood.readings[0]
    if len(meanings) != 1:
        raise VoicelogError(f"{phrase!r} says more than one thing: put one entry right at a time")
    try:
        return put_right(record.state, entry, meanings[0])
    except CannotFollowError as error:
        raise CannotFollowError(f"{phrase!r}: {error}") from None
