"""One patient after the other by voice: exams kept, discarded, begun with a reference; screen and voice obey."""

from collections.abc import Callable, Iterator

import pytest

from tests.live.scripted import ScriptedEndpointer, ScriptedSource, block, utterance
from tests.live.test_exam_from_file import TWO_PHRASES
from tests.session.test_session import hearing
from voicelog.cli import exam, main
from voicelog.hearing.engines.protocol import Hearing, Hypothesis, Samples
from voicelog.hearing.sources import Block
from voicelog.live import exam as live_exam
from voicelog.live import listening
from voicelog.phrases import meanings as say
from voicelog.record import under_way
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal

READ = "streak vertical neutral at plus one"


class Spoken(ScriptedSource):
    """An utterance a block; each is entered before the next begins."""

    def __init__(self, count: int) -> None:
        super().__init__(())
        self.count = count
        self.notes: tuple[str, ...] = ()
        self.busy: Callable[[], bool] = lambda: False

    def blocks(self) -> Iterator[Block]:
        for index in range(self.count):
            yield block(index)
            while self.busy():
                self.closed.wait(0.001)


class Says:
    """An engine that hears the lines in their order; a reference is what is behind "#"."""

    name = "script"

    def __init__(self, lines: tuple[str, ...]) -> None:
        self.lines = lines

    def hear(self, samples: Samples, rule: str) -> Hearing:
        if not samples.size or samples.max() != samples.min():  # the warming up
            return hearing("nothing")
        line = self.lines[int(samples[0])]
        if not line.startswith("#"):
            return hearing(line)
        assert rule.startswith("answers_reference"), "the reference is not what is asked for"
        return Hearing("script", (Hypothesis(line, (say.Reference(text=line[1:]),), -1.0),), line, -1.0, 0.0)


@pytest.fixture(name="spoken")
def _spoken(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Runs `voicelog exam` with lines that are said one after the other."""

    def run(*lines: str, options: tuple[str, ...] = ()) -> None:
        source = Spoken(len(lines))
        finishes = {index: utterance(index, 600 * index, 600 * index + 400) for index in range(len(lines))}
        loops: list[listening.Listening] = []

        class Loop(listening.Listening):
            def __init__(self, *given: object, **named: object) -> None:
                super().__init__(*given, **named, endpointer=ScriptedEndpointer(finishes))  # type: ignore[arg-type]
                loops.append(self)
                source.busy = lambda: self.busy

        monkeypatch.setattr(exam, "chosen_engine", lambda *_: Says(lines))
        monkeypatch.setattr(live_exam, "Listening", Loop)
        monkeypatch.setattr(live_exam.LiveExam, "_opened", lambda _: source)
        assert main(["exam", "--source", str(TWO_PHRASES), "--pace", "fast", "--no-open", *options]) == 0

    return run


def kept() -> list[ExamRecord]:
    """The exams of the record, the first first."""
    with Journal.open() as journal:
        found = [journal.exam(name) for name in journal.names()]
    return sorted(found, key=lambda each: each.started.at)


def summed(record: ExamRecord) -> tuple[str, int, bool]:
    """Its reference, how many entries count, whether it was finished."""
    return record.started.reference, len(record.state.ledger.live), record.state.ended


def test_patient_after_patient(spoken: Callable[..., None], capsys: pytest.CaptureFixture[str]) -> None:
    """Each is kept under its reference, the last one though nobody finished it; an empty one is not."""
    spoken(
        *("right eye", READ, "next patient"),
        *("#K711", "left eye", READ, "next patient"),
        *("next patient",),
        *("right eye", READ, "finish exam", "left eye", "look up please", "next patient"),
        *("#12", "right eye"),
    )

    assert [summed(each) for each in kept()] == [
        ("", 2, True),
        ("K711", 2, True),
        ("", 2, True),
        ("12", 1, False),
    ]
    told = [line for line in capsys.readouterr().err.splitlines() if "kept: " in line]
    assert [line.partition(": ")[0] for line in told] == ["kept", "kept", "not kept", "kept", "kept"]
    assert "reference K711: right no result, left no result" in told[1]
    assert under_way.broken_off() is None


def test_what_is_not_said_in_full_is_asked_about_and_passes(spoken: Callable[..., None]) -> None:
    """An entry instead of a yes, and the exam goes on; a no, and it goes on."""
    spoken(
        "right eye",
        "finished",
        READ,
        "all done",
        "no",
        "streak horizontal neutral at plus two",
        "finish up",
        "yes",
    )

    (record,) = kept()
    assert summed(record) == ("", 3, True)
    assert [line.outcome for line in record.lines.values()] == [
        *("accepted", "asked", "accepted", "asked", "accepted", "accepted", "asked", "accepted"),
    ]


def test_an_exam_is_discarded_after_a_yes_and_all_that_was_said_stays_in_the_journal(
    spoken: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    spoken(
        "right eye", READ, "discard this exam", "no", "discard this exam", "yes", "next patient", "left eye"
    )

    first, second = kept()
    assert summed(first) == ("", 0, True)
    assert [line.reply for line in first.lines.values()][-4:-1] == [
        "not entered",
        "discard the exam, 2 entries?",
        "exam discarded: 2 taken out",
    ]
    assert summed(second) == ("", 1, False)


def test_an_exam_without_an_entry_leaves_nothing_when_it_is_discarded(spoken: Callable[..., None]) -> None:
    spoken("look at the far letter please", "discard this exam", "yes")
    assert kept() == []


def test_a_patient_whose_exam_cannot_begin_can_be_called_again(
    spoken: Callable[..., None], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    begin, calls = Journal.begin, list[int]()

    def fails_once(journal: Journal) -> object:
        calls.append(1)
        if len(calls) == 2:
            raise OSError("no room")
        return begin(journal)

    monkeypatch.setattr(Journal, "begin", fails_once)
    spoken("right eye", "next patient", "left eye", "next patient", "left eye")

    assert [summed(each) for each in kept()] == [("", 1, True), ("", 1, False)]
    assert "THE NEXT EXAM CANNOT BEGIN: no room" in capsys.readouterr().err
