"""Exams for the page: the demo as it would be heard (its real sound, the script's words), and others in the record."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import islice

import numpy as np

from tests.corpora.demo_scenario import script
from tests.live.scripted import utterance
from tests.record.cases import EXAM
from tests.session.test_session import hearing
from voicelog.demo import demo_audio
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.protocol import Hearing, Hypothesis
from voicelog.hearing.sources import SAMPLE_RATE_HZ as RATE
from voicelog.hearing.sources import FileSource
from voicelog.hearing.utterance import Utterance
from voicelog.record import acts
from voicelog.record.exam_store import ExamStore
from voicelog.record.journal import Journal
from voicelog.session import Session
from voicelog.settings import Settings

CLOSE_TO = {"streak one twenty five with": "streak one twenty nine with"}
CONTRADICTING = (
    "working distance fifty",
    "right eye",
    "streak vertical with at plus one",
    "streak vertical neutral at plus one half",
    "yes",
)


@cache
def demo_utterances() -> tuple[Utterance, ...]:
    """The demo's sound, cut as it is cut live; takes some seconds."""
    return tuple(utterances(FileSource(demo_audio()).blocks()))


@cache
def demo_pieces() -> tuple[Utterance, ...]:
    """The demo's sound, a piece of a second for each line."""
    blocks = FileSource(demo_audio()).blocks()
    samples = np.concatenate([block.samples for block in islice(blocks, 40 * len(script()))])
    return tuple(
        replace(utterance(at, at * RATE, (at + 1) * RATE), samples=samples[at * RATE : (at + 1) * RATE])
        for at in range(len(script()))
    )


def heard_demo(sounds: Sequence[Utterance]) -> Iterator[tuple[Hearing, Utterance]]:
    """What a recogniser without faults hears of it; one line has a close second meaning."""
    for line, sound in zip(script(), sounds, strict=True):
        heard = hearing(line.text)
        rival = CLOSE_TO.get(line.text)
        if rival is not None:
            (other,) = hearing(rival).hypotheses
            second = Hypothesis(other.text, other.meanings, heard.hypotheses[0].log_probability - 4.0)
            heard = replace(heard, hypotheses=(*heard.hypotheses, second))
        yield heard, sound


def keep_demo(journal: Journal, sounds: Sequence[Utterance], *, reference: str = "") -> ExamStore:
    """The demo in the record, with its clips."""
    store = journal.begin()
    session = Session(Settings(), store=store, reference=reference)
    for heard, sound in heard_demo(sounds):
        session.take_heard(heard, sound)
    return store


def keep_typed(
    journal: Journal, lines: tuple[str, ...], *, days_ago: int = 0, reference: str = "", attested_by: str = ""
) -> ExamStore:
    """An exam typed some days ago, and perhaps attested."""
    begun = datetime.now(UTC) - timedelta(days=days_ago)
    store = journal.begin(begun)
    session = Session(Settings(), store=store, reference=reference, now=lambda: begun)
    for line in lines:
        session.type_line(line)
    if attested_by and store.record is not None:
        store.append(acts.attestation(store.record, begun, by=attested_by, despite_open_points=True))
    return store


def fill(journal: Journal, sounds: Sequence[Utterance] | None = None) -> str:
    """A small record; the name of the demo's exam in it, with pieces of the demo for its sounds if none are given."""
    keep_typed(journal, EXAM[:5], days_ago=3, reference="A 17")
    keep_typed(journal, EXAM, days_ago=2, reference="B 4", attested_by="MK")
    keep_typed(journal, CONTRADICTING, days_ago=1, reference="C 90")
    return keep_demo(journal, sounds or demo_pieces(), reference="D 1").exam
