"""Random exams, typed as an examiner might, through a real file that is closed and opened again and again."""

import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import islice
from pathlib import Path
from random import Random

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from tests.english import load
from voicelog.exam.events import Event, Line, Remove, Replace, Started
from voicelog.exam.state import ExamState
from voicelog.exam.state import fold as fold_said
from voicelog.phrases.grammar import LINE_RULE
from voicelog.phrases.sampler import samples
from voicelog.record.errors import AttestedError
from voicelog.record.events import Addendum, Amended, Attested
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import fold
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify
from voicelog.session import Session
from voicelog.settings import Settings

from .cases import not_kept


@cache
def any_line(seed: int) -> str:
    """A phrase by chance; of an odd seed one by ways that are seldom gone."""
    *_, last = islice(samples(load().walker(LINE_RULE), Random(seed)), 1 + seed % 2)
    return last.text


# Phrases by chance seldom follow from each other; these do, and so reach corrections that find something.
_USUAL = [
    *(
        "right eye",
        "left eye",
        "other eye",
        "working distance 67",
        "working lens in",
        "scissors",
        "yes",
        "no",
        "plus",
    ),
    *(
        "streak 90 neutral at plus one",
        "streak 180 neutral at minus half",
        "horizontal with",
        "vertical neutral",
    ),
    *("streak 45 neutral at plus two", "streak 135 against at plus two", "sphere plus two", "cylinder out"),
    *(
        "cylinder minus one axis 90",
        "streak 90 neutral at two",
        "correction plus three",
        "correction axis 10",
    ),
    *("change vertical to plus two", "not plus one plus two", "scratch that", "wrong eye", "concave mirror"),
]
LINES = st.sampled_from(_USUAL) | st.integers(0, 399).map(any_line)
MEMORY = Path("/dev/shm")
NOW = datetime(2025, 11, 25, 8, 0, tzinfo=UTC)


class Typing(RuleBasedStateMachine):
    """One examiner, one exam; now and then the program ends and begins again."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="vl-states-", dir=MEMORY if MEMORY.is_dir() else None))
        self.journal = Journal.open(self.folder)
        self.now = NOW
        self.acknowledged: list[Event] = []

    @initialize(naming=st.sampled_from(["streak", "meridian"]), reference=st.text(max_size=10))
    def begin(self, naming: str, reference: str) -> None:
        self.store = self.journal.begin(NOW)
        chosen = Settings.model_validate({"naming": naming})
        self.session = Session(chosen, store=self.store, reference=reference, now=self.later)
        self.amended = self.attested = False

    def later(self) -> datetime:
        self.now += timedelta(milliseconds=1)
        return self.now

    @precondition(lambda self: not (self.amended or self.attested))
    @rule(lines=st.lists(LINES, min_size=1, max_size=5))
    def type_lines(self, lines: list[str]) -> None:
        for line in lines:
            self.session.type_line(line)

    @rule()
    def end_and_begin_again(self) -> None:
        self.journal.close()
        self.journal = Journal.open(self.folder)
        before, self.store = self.store, self.journal.reopen(self.store.exam)
        assert self.store.record == before.record
        self.session._store = self.store

    @precondition(lambda self: not self.attested and self.session.state.ledger.live)
    @rule(choice=st.integers(0, 50), other=st.integers(0, 50), out=st.booleans())
    def amend(self, choice: int, other: int, out: bool) -> None:
        """Any live entry takes the value of any other of its kind, or is taken out."""
        live = record_state(self.store).ledger.live
        if not live:
            return
        row = live[choice % len(live)]
        kin = [each.entry for each in live if type(each.entry) is type(row.entry)]
        change = Remove(id=row.id) if out else Replace(id=row.id, entry=kin[other % len(kin)])
        number = self.store.record.next_number  # type: ignore[union-attr]
        event = Amended(number=number, at=self.later(), by="AB", reason="a test", changes=(change,))
        self.store.append(event)
        self.amended = True
        now = record_state(self.store).ledger.rows[row.id]
        assert now.changed_by == number
        assert now.withdrawn == out
        assert out or now.entry == event.value

    @precondition(lambda self: not self.attested)
    @rule()
    def attest(self) -> None:
        number = self.store.record.next_number  # type: ignore[union-attr]
        self.store.append(Attested(number=number, at=self.later(), by="AB"))
        self.attested = True

    @precondition(lambda self: self.attested)
    @rule(text=st.text(min_size=1))
    def add_words(self, text: str) -> None:
        number = self.store.record.next_number  # type: ignore[union-attr]
        before = record_state(self.store)
        with not_kept(AttestedError):
            self.session.type_line("right eye")
        self.store.append(Addendum(number=number, at=self.later(), by="CD", text=text + "."))
        assert record_state(self.store) == before

    @invariant()
    def the_file_holds_what_was_acknowledged(self) -> None:
        if not hasattr(self, "store"):
            return
        kept = self.journal.exam(self.store.exam)
        assert kept == self.store.record
        assert fold(kept.events) == kept == fold(kept.events)
        said = tuple(event for event in kept.events if isinstance(event, Started | Line))
        assert said == self.session.state.events
        if not self.amended:
            assert kept.state == self.session.state == fold_said(said)

    def teardown(self) -> None:
        verdict = verify(self.journal, deep=True)
        self.journal.close()
        shutil.rmtree(self.folder)
        assert verdict.faults == ()


def record_state(store: ExamStore) -> ExamState:
    assert store.record is not None
    return store.record.state


TestTyping = Typing.TestCase
TestTyping.settings = settings(max_examples=8, stateful_step_count=12, deadline=None)
