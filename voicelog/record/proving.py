"""Whether the record is still what an earlier head says, and proofs of it that need no record to be checked."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import select

from voicelog.record import log, log_check
from voicelog.record.errors import NoSuchExamError, RecordError, in_plain_words
from voicelog.record.faults import Fault
from voicelog.record.heads import FORM, Head, head_of
from voicelog.record.journal import Journal
from voicelog.record.log_check import Grown
from voicelog.record.merkle import consistency_proof, inclusion_proof
from voicelog.record.tables import event as event_table
from voicelog.record.tables import leaf as leaf_table
from voicelog.record.verifying import Verdict, verify


@dataclass(frozen=True, slots=True)
class Proved:
    """What became of earlier heads: `faults` say what they do not fit, `notes` what helps to understand it."""

    verdict: Verdict
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]


def heads_in(words: Sequence[str]) -> list[Head]:
    """The heads in a text given as words, or in the file of that name (every line that begins as a head does).

    Raises RecordError when there is none.
    """
    if len(words) == 1 and not words[0].strip().startswith(FORM):
        path = Path(words[0])
        with in_plain_words(str(path)):
            content = path.read_bytes().decode("utf-8", "replace")
        heads = [head_of(line) for line in content.splitlines() if line.startswith(FORM)]
        if not heads:
            raise RecordError(f"{path} holds no head of a record: a head begins with {FORM}")
        return sorted(heads, key=lambda head: head.size)
    return [head_of(" ".join(words))]


def prove(journal: Journal, heads: Sequence[Head]) -> Proved:
    """Check the whole record, and that what earlier heads stand for is its beginning. Raises RecordError."""
    with in_plain_words(str(journal.heads.path)):
        known = (*journal.heads.kept().heads, *journal.heads.replaced(), *_elsewhere(journal))
    sizes = {head.size for head in (*heads, *known)}
    verdict = verify(journal, clips=False, sizes=sizes)
    grown = Grown(verdict.size, verdict.root, dict(verdict.roots))
    faults = log_check.against_heads(grown, heads, "the head", known)
    notes = [
        f"the head behind {head.last} is signed by another machine's key, or by one that this machine had before"
        for head in heads
        if head.key != journal.key.public
    ]
    replaced = journal.heads.replaced()
    if faults and replaced:
        notes.append(
            f"a backup took the record's place, last when it ended with {replaced[-1].last}. What it was before "
            "lies in a folder replaced-... of the data folder, unless somebody moved it"
        )
    return Proved(verdict, tuple(faults), tuple(notes))


def proof(journal: Journal, head: Head, exam: str | None = None) -> dict[str, Any]:
    """A proof for others: that the record of a head is the beginning of today's, and where an exam's events are in it.

    Hashes are hexadecimal, paths as in RFC 9162, sections 2.1.3.1 and 2.1.4.1. Raises RecordError.
    """
    now = journal.head()
    if now is None or now.size < head.size:
        raise RecordError("the record is shorter than the head says: there is nothing to prove")
    with journal.database.reading() as connection:
        span = log.span(connection)
        found: dict[str, Any] = {
            "then": str(head),
            "now": str(now),
            "consistency": [each.hex() for each in consistency_proof(span, head.size, now.size)],
        }
        if exam is not None:
            salt = log.salt_of(connection, exam)
            same = (leaf_table.c.exam == event_table.c.exam) & (leaf_table.c.number == event_table.c.number)
            query = (
                select(event_table.c.number, event_table.c.hash, leaf_table.c.position, leaf_table.c.listed)
                .join(leaf_table, same)
                .where(event_table.c.exam == exam)
                .order_by(event_table.c.number)
            )
            rows = connection.execute(query).all()
            if salt is None or not rows:
                raise NoSuchExamError(f"there is no exam {exam!r}; voicelog record list shows them")
            found["exam"] = {
                "name": exam,
                "salt": salt.hex(),
                "events": [
                    {
                        "number": number,
                        "hash": hash_,
                        "listed": None if said is None else said.hex(),
                        "index": position - 1,
                        "inclusion": [each.hex() for each in inclusion_proof(span, position - 1, now.size)],
                    }
                    for number, hash_, position, said in rows
                ],
            }
    return found


def _elsewhere(journal: Journal) -> tuple[Head, ...]:
    try:
        return journal.heads.kept_elsewhere().heads
    except OSError:
        return ()
