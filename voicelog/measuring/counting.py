"""Counts what became of recordings: right, asked, wrong, ignored; and what was entered from other talk.

The outcome is the recogniser's decision, and the exam's where that does not hang on what was logged before: a power
without its sign, or an axis beyond 180, is never entered in silence, so it counts as asked about.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Literal

from voicelog.exam.entries import Context, Question, from_meaning, is_enterable
from voicelog.exam.gaps import first_gap
from voicelog.exam.splitting import split
from voicelog.exam.state import ExamState
from voicelog.hearing.engines.protocol import Hearing
from voicelog.measuring.listeners import Judge, Judged
from voicelog.measuring.manifests import EXAM_RULES, Row
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.meanings import Correction, LooseAxis, Meaning
from voicelog.session import Session
from voicelog.settings import Settings

Result = Literal["right", "asked", "wrong", "ignored"]
"""Of a phrase. "wrong": entered, with another meaning, without a question."""
RESULTS: tuple[Result, ...] = ("right", "asked", "wrong", "ignored")

TalkResult = Literal["entered", "answer", "asked", "ignored"]
"""Of a stretch of other talk. "answer": nothing comes of it unless the log has just asked."""

# Kinds that an exam leaves alone, sure or not, while no question is open (exam/exchange.py).
_ANSWERS = frozenset({"answer", "power", "axis", "sign", "where", "digit", "distance"})


@dataclass(frozen=True, slots=True)
class Heard:
    """One stretch of sound as a listener heard it; not `whole`: words may be missing at its ends."""

    hearing: Hearing
    whole: bool


@dataclass(frozen=True, slots=True)
class Case:
    """A row as a listener heard it: a phrase in one stretch, other talk in as many as it was cut into.

    `length_s` is the length of other talk; 0 for phrases.
    """

    row: Row
    heard: tuple[Heard, ...]
    length_s: float


def phrase_result(row: Row, judged: Judged) -> Result:
    """What became of a phrase."""
    if judged.outcome != "accepted":
        return judged.outcome
    if judged.best == row.expected:
        return "right"
    return "asked" if exam_asks(row.rule, judged.best) else "wrong"


def talk_result(row: Row, judged: Judged, *, whole: bool) -> TalkResult:
    """What became of a stretch of other talk; as in an exam, one that is not whole is never sure."""
    if judged.outcome == "ignored" or judged.best is None:
        return "ignored"
    if row.rule == EXAM_RULES and all(each.kind in _ANSWERS for each in judged.best):
        return "answer"
    sure = judged.outcome == "accepted" and whole and not exam_asks(row.rule, judged.best)
    return "entered" if sure else "asked"


def exam_asks(rule: str, said: Meanings | None) -> bool:
    """Whether an exam asks about something of it, however sure it was heard."""
    return rule == EXAM_RULES and any(_asks(each) for each in said or ())


def _asks(meaning: Meaning) -> bool:
    if first_gap(meaning) is not None:
        return True
    corrects = isinstance(meaning, Correction)
    entry: Meaning = meaning.entry if isinstance(meaning, Correction) else meaning
    if isinstance(entry, LooseAxis):
        return not 1 <= entry.axis_deg <= 180
    state = _under_way(with_cylinder=corrects)
    parts = [part for part in split(state, entry) if is_enterable(part)]
    return any(isinstance(from_meaning(part, Context(state.standing, part)), Question) for part in parts)


@cache
def _under_way(*, with_cylinder: bool) -> ExamState:
    """An exam in which nothing is missing that an entry may build on: an eye, a meridian in hand, a lens in place.

    A correction may build on a cylinder as well: one that is put right keeps the axis it had.
    """
    session = Session(Settings(naming="streak"))
    lens = "sphere plus one cylinder minus one axis ninety" if with_cylinder else "sphere plus one"
    for line in ("right eye", f"streak vertical with {lens}"):
        session.type_line(line)
    return session.state


@dataclass(slots=True)
class PhraseTally:
    """Counts over phrases. `first`: the right meaning was the likeliest, entered or not."""

    results: Counter[Result] = field(default_factory=Counter)
    first: int = 0
    decode_s: list[float] = field(default_factory=list)

    @property
    def total(self) -> int:
        """How many phrases."""
        return self.results.total()

    def add(self, row: Row, judged: Judged) -> Result:
        """Count one phrase."""
        result = phrase_result(row, judged)
        self.results[result] += 1
        self.first += judged.best == row.expected
        if judged.seconds:
            self.decode_s.append(judged.seconds)
        return result


@dataclass(slots=True)
class TalkTally:
    """Counts over other talk. `kinds`: what was entered falsely."""

    results: Counter[TalkResult] = field(default_factory=Counter)
    kinds: Counter[str] = field(default_factory=Counter)
    recordings: int = 0
    seconds: float = 0.0
    decode_s: list[float] = field(default_factory=list)

    def add(self, case: Case, judge: Judge) -> list[TalkResult]:
        """Count one recording."""
        self.recordings += 1
        self.seconds += case.length_s
        results = []
        for heard in case.heard:
            judged = judge(heard.hearing, case.row.rule)
            result = talk_result(case.row, judged, whole=heard.whole)
            results.append(result)
            self.results[result] += 1
            if result == "entered" and judged.best is not None:
                self.kinds.update(each.kind for each in judged.best)
            if judged.seconds:
                self.decode_s.append(judged.seconds)
        return results


@dataclass(frozen=True, slots=True)
class Group:
    """What is counted together; empty parts are not told apart."""

    listener: str
    set_name: str
    rule: str
    condition: str = ""
    snr_db: float | None = None
    speaker: str = ""


@dataclass(frozen=True, slots=True)
class Miss:
    """A phrase that was not entered right, or a stretch of talk that was entered or asked about."""

    listener: str
    set_name: str
    speaker: str
    condition: str
    said: str
    result: str
    heard: str


By = Literal["set", "condition", "voice"]


@dataclass(slots=True)
class Counted:
    """All counts of one measurement."""

    phrases: dict[By, dict[Group, PhraseTally]]
    talk: dict[By, dict[Group, TalkTally]]
    misses: list[Miss]
    not_phrases: int
    """Rows with a transcript that is no phrase: counted as other talk."""


def counted(heard: Iterable[tuple[str, Sequence[Case], Judge]]) -> Counted:
    """Count the cases of each listener, by set, by condition and by voice."""
    found = Counted(
        {"set": {}, "condition": {}, "voice": {}}, {"set": {}, "condition": {}, "voice": {}}, [], 0
    )
    for listener, cases, judge in heard:
        found.not_phrases = sum(case.row.expected is None and bool(case.row.transcript) for case in cases)
        for case in cases:
            (_count_phrase if case.row.expected is not None else _count_talk)(found, listener, case, judge)
    return found


def _count_phrase(found: Counted, listener: str, case: Case, judge: Judge) -> None:
    (heard,) = case.heard
    judged = judge(heard.hearing, case.row.rule)
    for by, group in _groups(listener, case.row):
        found.phrases[by].setdefault(group, PhraseTally()).add(case.row, judged)
    result = phrase_result(case.row, judged)
    if result != "right":
        found.misses.append(_miss(listener, case.row, result, heard.hearing))


def _count_talk(found: Counted, listener: str, case: Case, judge: Judge) -> None:
    for by, group in _groups(listener, case.row):
        results = found.talk[by].setdefault(group, TalkTally()).add(case, judge)
    for heard, result in zip(case.heard, results, strict=True):
        if result in ("entered", "asked"):
            found.misses.append(_miss(listener, case.row, result, heard.hearing))


def _groups(listener: str, row: Row) -> tuple[tuple[By, Group], ...]:
    return (
        ("set", Group(listener, row.set_name, row.rule)),
        ("condition", Group(listener, row.set_name, row.rule, row.condition, row.snr_db)),
        ("voice", Group(listener, row.set_name, row.rule, speaker=row.speaker)),
    )


def _miss(listener: str, row: Row, result: str, hearing: Hearing) -> Miss:
    best = hearing.hypotheses[0].text if hearing.hypotheses and listener != "free" else hearing.free_text
    return Miss(listener, row.set_name, row.speaker, row.condition, row.transcript, result, best)
