"""What the record refuses outlives a kill: a copy of the data folder, as a kill leaves it, is started anew."""

import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.live.test_faults import Chance, Engine, sound
from tests.record.cases import MORNING, clock
from voicelog.cli.keeping import kept_record
from voicelog.exam.events import Line
from voicelog.live import entering
from voicelog.live.entering import Entering
from voicelog.live.holding import Holding
from voicelog.live.taking import ExamTaker
from voicelog.live.told import Counts, Told
from voicelog.record.beginning import KeptFromFirstEntry
from voicelog.record.erasing_copies import erase_everywhere
from voicelog.record.errors import RecordBusyError
from voicelog.record.exam_store import ExamStore
from voicelog.record.held import HeldFile, take_up
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify
from voicelog.session import Session
from voicelog.settings import Settings

PATIENCE_S = 20.0
TALK = "zwieback is what she had for lunch"
HEARD = ("right eye", "streak vertical neutral at plus one", TALK, "streak horizontal neutral at plus two")


class Live:
    """An exam at the microphone without one: utterances and typed lines go in, as the loop hands them."""

    def __init__(self, journal: Journal) -> None:
        self.store = KeptFromFirstEntry(journal.begin(MORNING))
        engine = Engine(list(HEARD), Chance(None, 0.0, 0))  # type: ignore[arg-type]
        self.session = Session(Settings(), engine=engine, store=self.store, now=lambda: next(self._times))
        self.held: list[str] = []
        self.problems: list[str] = []
        taker = ExamTaker(self.session, engine)
        holding = Holding(taker)
        told = Told(
            problem=self.problems.append,
            held=self.held.append,
            hold=holding.hold,
            let_go=holding.let_go,
        )
        self.entering = Entering(taker, told, Counts(), lambda *_: None)
        self._thread = threading.Thread(target=self.entering.run, args=(lambda: None,), daemon=True)
        self._thread.start()

    _times = clock(MORNING)

    def say(self, *lines: str) -> None:
        for line in lines:
            if line in HEARD:
                self.entering.put(sound(HEARD.index(line)))
            else:
                self.entering.type_line(line, "typed")

    def end(self) -> None:
        self.entering.end()
        self._thread.join(PATIENCE_S)
        assert not self._thread.is_alive()


def begun(journal: Journal) -> Live:
    """A live exam with the right eye in hand, kept."""
    live = Live(journal)
    live.say("right eye")
    wait_until(lambda: not live.entering.busy and len(live.session.state.events) == 2)
    return live


@pytest.fixture(name="folder")
def _folder(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture(name="journal")
def _journal(folder: Path) -> Iterator[Journal]:
    with Journal.open(folder) as journal:
        yield journal


@pytest.fixture(autouse=True)
def _soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(entering, "_TRY_AGAIN_S", 0.02)
    monkeypatch.setattr(entering, "_AFTER_THE_END_S", 0.1)


@contextmanager
def refusing(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The record is held by another program."""

    def write(*_: object) -> None:
        raise RecordBusyError("another process holds the record")

    with monkeypatch.context() as patched:
        patched.setattr(ExamStore, "_write", write)
        yield


def wait_until(done: Callable[[], bool]) -> None:
    until = time.monotonic() + PATIENCE_S
    while not done():
        assert time.monotonic() < until
        time.sleep(0.01)


def count_held(journal: Journal) -> int:
    return sum(len(events) for events in HeldFile.of(journal).events().values())


def killed_now(folder: Path, place: Path) -> Path:
    """The folder as a kill leaves it at this moment: all that is held was synced."""
    return Path(shutil.copytree(folder, place))


def texts(journal: Journal, exam: str) -> list[str]:
    return [each.text for each in journal.exam(exam).events if isinstance(each, Line) and each.text]


def all_bytes(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_what_is_held_goes_in_at_the_next_start(
    journal: Journal,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Typed and heard, in order and with its sound; other talk leaves no word."""
    live = Live(journal)
    exam = live.store.exam
    live.say("working distance sixty seven", "right eye")
    wait_until(lambda: not live.entering.busy and len(live.session.state.events) == 3)
    with refusing(monkeypatch):
        live.say(HEARD[1], "acuity six nine", TALK, HEARD[3])
        wait_until(lambda: count_held(journal) == 4)
        left = killed_now(folder, tmp_path / "left")
        assert len(live.session.state.events) == 3
    live.say("left eye")
    live.end()

    # Not killed: all is entered as it was said, and nothing is held any more.
    assert (live.held[-1], live.problems) == ("", [])
    assert not HeldFile.of(journal).path.exists()
    entered = texts(journal, exam)
    assert len(entered) == 6

    # Killed: the next start enters it, and says so.
    assert TALK.encode() not in all_bytes(left)
    monkeypatch.setenv("VOICELOG_DATA", str(left))
    with kept_record(Settings(), keep=True) as again:
        assert again is not None
        assert texts(again, exam) == entered[:5]
        verdict = verify(again)
        assert (verdict.faults, verdict.missing_clips, verdict.clips) == ((), (), 2)
        assert str(again.exam(exam).eyes["right"].result) == str(live.session.state.eyes["right"].result)
        assert again.exam(exam).eyes["right"].result is not None
        assert not HeldFile.of(again).path.exists()
    told = [line for line in capsys.readouterr().err.splitlines() if line.startswith("exam ")]
    assert told == [f"exam {exam}: entered now, was held: {words}" for words in entered[2:5]]


def test_an_exam_that_never_got_into_the_record_is_begun_at_the_next_start(
    journal: Journal, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    live = Live(journal)
    with refusing(monkeypatch):
        live.say("right eye", "acuity six nine")
        wait_until(lambda: count_held(journal) == 3)
        left = killed_now(folder, tmp_path / "left")
        live.end()

    with Journal.open(left) as again:
        assert len(take_up(again)) == 2
        assert texts(again, live.store.exam) == ["right eye", "acuity six nine"]
        assert verify(again).faults == ()
        assert take_up(again) == []


def test_what_is_still_held_when_the_exam_ends_is_said_to_go_in_later(
    journal: Journal, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    live = Live(journal)
    with refusing(monkeypatch):
        live.say("right eye", "acuity six nine")
        wait_until(lambda: count_held(journal) == 3)
        live.end()

    assert [text.partition(" (")[0] for text in live.problems] == [
        "NOT ENTERED: right eye",
        "NOT ENTERED: acuity six nine",
    ]
    assert all(text.endswith("goes in at the next start") for text in live.problems)
    with Journal.open(folder) as again:
        assert len(take_up(again)) == 2


def test_behind_an_order_for_the_next_patient_nothing_is_held(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would go into the exam of the one before."""
    live = Live(journal)
    live.session.on_order = lambda order: None
    with refusing(monkeypatch):
        live.say("right eye", "next patient", "acuity six nine")
        wait_until(lambda: count_held(journal) >= 2)
        live.end()

    assert [text.endswith("next start") for text in live.problems][-1] is False
    with Journal.open(journal.clips.folder.parent) as again:
        take_up(again)
        assert "acuity six nine" not in texts(again, live.store.exam)


def test_what_the_record_took_after_all_is_not_entered_twice(
    journal: Journal, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The kill came between the entering and the end of holding."""
    live = begun(journal)
    with refusing(monkeypatch):
        live.say("acuity six nine")
        wait_until(lambda: count_held(journal) == 1)
        kept = HeldFile.of(journal).path.read_bytes()
    wait_until(lambda: not live.entering.busy)
    HeldFile.of(journal).path.write_bytes(kept)
    left = killed_now(folder, tmp_path / "left")
    live.end()

    with Journal.open(left) as again:
        assert take_up(again) == []
        assert texts(again, live.store.exam) == ["right eye", "acuity six nine"]


def test_what_cannot_follow_any_more_is_named(
    journal: Journal, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody went on with the exam in another room meanwhile. A line that was never finished is none."""
    live = begun(journal)
    with refusing(monkeypatch):
        live.say("acuity six nine")
        wait_until(lambda: count_held(journal) == 1)
        left = killed_now(folder, tmp_path / "left")
        live.end()
    with Journal.open(left) as again:
        with HeldFile.of(again).path.open("ab") as file:
            file.write(b'{"event":')
        store = again.reopen(live.store.exam)
        assert store.record is not None
        Session(Settings(), store=store, resumed=store.record.state).type_line("dull reflex")

        (told,) = take_up(again)

        assert "NOT ENTERED, was held when the program ended" in told
        assert told.endswith(": acuity six nine")
        assert texts(again, live.store.exam) == ["right eye", "dull reflex"]


@pytest.mark.parametrize("left", [b"", b'{"event":'])
def test_a_file_in_which_no_line_was_finished_is_cleared_away(journal: Journal, left: bytes) -> None:
    """The kill came between the making of the file and the end of its first line: nothing was acknowledged."""
    path = HeldFile.of(journal).path
    path.write_bytes(left)

    assert take_up(journal) == []
    assert not path.exists()


def test_a_line_that_was_never_finished_spoils_none_behind_it(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kill, or a full disk, in the middle of a line; then it goes on, here or in the next program."""
    live = begun(journal)
    with refusing(monkeypatch):
        live.say("acuity six nine")
        wait_until(lambda: count_held(journal) == 1)
        with HeldFile.of(journal).path.open("ab") as file:
            file.write(b'{"event":')
        live.say("dull reflex")
        wait_until(lambda: count_held(journal) == 2)
        live.end()

    assert len(take_up(journal)) == 2
    assert texts(journal, live.store.exam) == ["right eye", "acuity six nine", "dull reflex"]


def test_while_the_record_refuses_still_all_stays_held(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    live = Live(journal)
    with refusing(monkeypatch):
        live.say("right eye")
        wait_until(lambda: count_held(journal) == 2)
        live.end()
        (told,) = take_up(journal)
        assert "2 held, and not entered yet: another process holds the record" in told
    assert count_held(journal) == 2


def test_nothing_of_an_erased_exam_stays_held(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    live = begun(journal)
    with refusing(monkeypatch):
        live.say("acuity six nine")
        wait_until(lambda: count_held(journal) == 1)
        live.end()

    erase_everywhere(journal, live.store.exam, by="AB", reason="asked to")

    assert not HeldFile.of(journal).path.exists()
