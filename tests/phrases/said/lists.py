"""The lists of utterances, and the examinations that their contexts name."""

import csv
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from voicelog.exam.state import ExamState
from voicelog.hearing.engines.protocol import Engine
from voicelog.session import Memory, Session
from voicelog.settings import Settings

_EYE = ("right eye", "working distance sixty seven")
_ONE = (*_EYE, "streak vertical neutral plus two")
_BOTH = (*_ONE, "streak horizontal neutral plus three")
_DONE = (*_BOTH, "left eye", "streak vertical neutral plus two", "streak horizontal neutral plus three")

CONTEXTS: Mapping[str, tuple[str, ...]] = {
    "start": (),
    "eye+distance known": _EYE,
    "vertical neutral known": _ONE,
    "both meridians known": _BOTH,
    "both eyes done": _DONE,
    "motion just said": (*_EYE, "streak vertical with"),
    "question open: which meridian": (*_EYE, "neutral plus two"),
    "question open: which eye": ("neutral plus two vertical",),
    "question open: plus or minus": (*_EYE, "streak vertical neutral two and a half"),
    "question open: which axis": (*_EYE, "streak vertical neutral cylinder minus two"),
    "question open: did you say X": (*_EYE, "streak vertical neutarl at plus sixteen"),
}
"""What is typed before an utterance, by the column `context`."""


@dataclass(frozen=True, slots=True)
class Utterance:
    """A row of a list of utterances."""

    id: str
    weight: float
    group: str
    context: str
    text: str
    structured: Any


def utterances(path: Path) -> Iterator[Utterance]:
    """The rows of a list; columns as in the first line of the file."""
    for row in _rows(path):
        structured = json.loads(row["structured"])
        weight = float(row["weight"])
        yield Utterance(row["id"], weight, row["group"], row["context"], row["utterance"], structured)


def sentences(path: Path) -> Iterator[tuple[str, str, str]]:
    """Other talk: id, who says it, and the sentence."""
    for row in _rows(path):
        yield row["id"], row["speaker"], row["sentence"]


def _rows(path: Path) -> Iterator[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)


def opened(context: str, engine: Engine | None = None) -> Session:
    """A session as a context names it: the right question is open. Raises KeyError for an unknown context."""
    state, store = _led_to(context), Memory()
    store.events += state.events
    return Session(Settings(naming="streak"), engine=engine, store=store, resumed=state, keep_talk=True)


@cache
def _led_to(context: str) -> ExamState:
    session = Session(Settings(naming="streak"))
    for line in CONTEXTS[context]:
        session.type_line(line)
    open_question = context.startswith("question open")
    if open_question != (session.state.question is not None):
        raise ValueError(f"{context!r} does not lead to {'a' if open_question else 'no'} question")
    return session.state
