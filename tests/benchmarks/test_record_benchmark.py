"""The record with 100,000 exams: list, open and search under 50 ms each; what `verify` takes; growth; time of an append.

`VOICELOG_BENCH_EXAMS` names another number of exams; what `verify` may take is reckoned by the event.

Generated data: twenty exams dictated through the real session, with the engine's scores and alternatives that a heard
line carries, then told again with other times, names and references, chained as the journal does it.
"""

import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from sqlalchemy import Connection, insert

from voicelog.exam.events import Alternative, Heard, Line
from voicelog.record import log
from voicelog.record.chain import FIRST_LINK, Row, canonical, link, utc_text
from voicelog.record.errors import NoSuchExamError
from voicelog.record.events import RecordEvent
from voicelog.record.exams import fold
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted
from voicelog.record.overviews import Overview, escaped, overview, sought
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table
from voicelog.session import Memory, Session
from voicelog.settings import Settings

pytestmark = pytest.mark.sweep

EXAMS = int(os.environ.get("VOICELOG_BENCH_EXAMS", "100000"))
AT_ONCE = 1_000
LIMIT_S = 0.05
TIMES = 250
APPEND_LIMIT_S = 0.1
VERIFY_CPU_S_AN_EVENT = 30 / 1_200_000
VERIFY_MIB = 300
FIRST_DAY = datetime(2016, 1, 4, 8, 0, tzinfo=UTC)
APART = timedelta(minutes=50)  # ten years of exams


def templates(random: Random) -> list[list[RecordEvent]]:
    """Twenty exams of 12 to 16 events, every fifth of them unresolved."""
    found = []
    for index in range(20):
        memory = Memory()
        session = Session(Settings(working_distance_cm=67), store=memory)
        for line in _lines(random, whole=index % 5 != 0):
            session.type_line(line)
        found.append([_heard(event) for event in memory.events])
    return found


def _lines(random: Random, *, whole: bool) -> list[str]:
    lines = []
    for eye in ("right eye", "left eye"):
        axis = random.randrange(5, 91, 5)
        power = random.choice(["plus one", "minus two and a half", "plus three quarters", "minus four"])
        lines += [eye, f"streak {axis} with at minus six", f"streak {axis} neutral at {power}"]
        lines += [
            f"streak {axis + 90} neutral at minus one",
            "correction minus one and a quarter",
            "dull reflex",
        ]
    return lines if whole else lines[:-3]


def _heard(event: RecordEvent) -> RecordEvent:
    """A typed line as if it had been heard: what the microphone adds to an event."""
    if not isinstance(event, Line) or not event.meanings:
        return event
    other = Alternative(text=event.text, meanings=event.meanings, log_probability=-12.25)
    heard = Heard(
        engine="moonshine",
        score=-1.234,
        margin=7.891,
        free_text=event.text,
        alternatives=(other,) * 3,
        start_s=12.345,
        end_s=14.567,
        clip="0" * 64,
        clip_s=2.8,
    )
    return event.model_copy(update={"source": "voice", "heard": heard})


def fill(journal: Journal, exams: int) -> None:
    """Rows exactly as the journal would write them, many in one transaction."""
    random = Random(1)
    told = [
        [(str(event.kind), event.model_dump(mode="json")) for event in each] for each in templates(random)
    ]
    known = [_known(each) for each in templates(Random(1))]
    for start in range(0, exams, AT_ONCE):
        lines: list[dict[str, Any]] = []
        rows: list[dict[str, Any]] = []
        for index in range(start, min(exams, start + AT_ONCE)):
            at = FIRST_DAY + index * APART
            name = f"{at:%Y%m%d}-{index:08d}"
            reference = f"practice {random.randrange(10**6):06d}"
            written = list(_told_again(told[index % 20], name, reference, at))
            rows += [asdict(row) for row in written]
            lines.append(asdict(_line(known[index % 20], written, reference)))
        with journal.database.writing() as connection:
            connection.execute(insert(exam_table), lines)
            connection.execute(insert(event_table), rows)
            _log(connection, lines, rows)


def _log(connection: Connection, lines: list[dict[str, Any]], rows: list[dict[str, Any]]) -> None:
    """Salts and leaves, as an append makes them; what the list said goes with the last event of each exam."""
    by_exam = {line["id"]: (log.new_salt(), line) for line in lines}
    for exam, (salt, _) in by_exam.items():
        log.keep_salt(connection, exam, salt)
    log.add(
        connection,
        (
            log.event_leaf(
                by_exam[row["exam"]][0],
                row["exam"],
                row["number"],
                row["hash"],
                by_exam[row["exam"]][1] if row["number"] == by_exam[row["exam"]][1]["last_number"] else None,
            )
            for row in rows
        ),
    )


def _known(events: list[RecordEvent]) -> Overview:
    return overview(fold(events), Row("", len(events) - 1, "", "", "", ""))


def _told_again(
    events: list[tuple[str, dict[str, Any]]], name: str, reference: str, at: datetime
) -> Iterator[Row]:
    previous = FIRST_LINK
    for number, (kind, event) in enumerate(events):
        event["at"] = utc_text(at + timedelta(seconds=5 * number))
        if number == 0:
            event["reference"] = reference
        body = canonical(event)
        previous = link(previous, name, number, event["at"], kind, body)
        yield Row(name, number, event["at"], kind, body, previous)


def _line(known: Overview, rows: list[Row], reference: str) -> Overview:
    return replace(
        known,
        id=rows[0].exam,
        reference=escaped(reference),
        sought=sought(reference),
        started_at=rows[0].at,
        changed_at=rows[-1].at,
        last_hash=rows[-1].hash,
    )


@pytest.fixture(scope="module", name="folder")
def _folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("many") / "data"
    with Journal.open(folder) as journal:
        start = time.perf_counter()
        fill(journal, EXAMS)
        print(f"\n{EXAMS} exams made in {time.perf_counter() - start:.0f} s")
    return folder


def looked_for(journal: Journal, named: str) -> None:
    """What fits several exams is an answer too."""
    with suppress(NoSuchExamError):
        journal.find(named)


def timed(work: Callable[[], object]) -> list[float]:
    """How long each of many runs took, seconds, in order of length."""
    taken = []
    for _ in range(TIMES):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return sorted(taken)


def calls(journal: Journal) -> dict[str, Callable[[], object]]:
    """Every way in which exams are listed, looked for and opened."""
    random = Random(2)
    names = [f"{FIRST_DAY + index * APART:%Y%m%d}-{index:08d}" for index in random.sample(range(EXAMS), 500)]
    references = [journal.exam(name).started.reference for name in names[:20]]
    first, last = FIRST_DAY + timedelta(days=1000), FIRST_DAY + timedelta(days=1001)

    def listed(**wanted: Any) -> Callable[[], object]:
        return lambda: journal.overviews(Wanted(**wanted))

    def looked_up(**wanted: Any) -> Callable[[], object]:
        return lambda: journal.overviews(Wanted(reference=random.choice(references)[9:], **wanted))

    return {
        "list the newest 50": listed(),
        "list a page far back": listed(skip=EXAMS * 9 // 10),
        "list a day": listed(since=first, until=last),
        "list unresolved": listed(unresolved=True),
        "list unresolved of a day": listed(unresolved=True, since=first, until=last),
        "list what is to do": listed(to_do=True),
        "list what is done": listed(to_do=False),
        "list what is done, a page far back": listed(to_do=False, skip=EXAMS * 7 // 10),
        "search a rare reference": looked_up(),
        "search a common part": listed(reference="practice 12"),
        "search what is not there": listed(reference="nobody"),
        "search unresolved of a reference": looked_up(unresolved=True),
        "search a reference that is to do": looked_up(to_do=True),
        "search a reference that is done": looked_up(to_do=False),
        "find the last": lambda: looked_for(journal, "last"),
        "find by name's start": lambda: looked_for(journal, random.choice(names)[:14]),
        "find by reference": lambda: looked_for(journal, random.choice(references)),
        "find nothing": lambda: looked_for(journal, "nobody"),
        "open an exam": lambda: journal.exam(random.choice(names)),
        "count": journal.count,
    }


def test_lists_searches_and_opening_take_less_than_a_twentieth_of_a_second(folder: Path) -> None:
    with Journal.open(folder) as journal:
        assert journal.count() == EXAMS
        to_do = len(journal.overviews(Wanted(to_do=True, limit=EXAMS)))
        assert to_do == EXAMS // 5
        found = {name: timed(work) for name, work in calls(journal).items()}
    for name, taken in found.items():
        print(
            f"{name}: median {statistics.median(taken) * 1e3:.1f} ms, 99 of 100 within"
            f" {taken[TIMES * 99 // 100 - 1] * 1e3:.1f}, longest {taken[-1] * 1e3:.1f}"
        )

    assert max(map(statistics.median, found.values())) < LIMIT_S


def test_growth_of_an_exam(folder: Path) -> None:
    with Journal.open(folder) as journal, journal.database.reading() as connection:
        events = connection.exec_driver_sql("SELECT count(*), sum(length(body)) FROM event").one()
    size = (folder / "voicelog.db").stat().st_size
    print(
        f"{size / EXAMS / 1024:.1f} KiB an exam of {events[0] / EXAMS:.1f} events; "
        f"{events[1] / events[0]:.0f} bytes of JSON an event; file {size / 2**20:.0f} MiB"
    )

    assert size / EXAMS < 32 * 1024


def test_appending_does_not_get_slower(folder: Path, tmp_path: Path) -> None:
    def median_s(place: Path) -> float:
        with Journal.open(place) as journal:
            taken = []
            for events in templates(Random(3))[:10]:
                store = journal.begin()
                for event in events:
                    start = time.perf_counter()
                    store.append(event)
                    taken.append(time.perf_counter() - start)
            return statistics.median(taken)

    empty, full = median_s(tmp_path / "empty"), median_s(folder)
    print(f"append: median {empty * 1e3:.1f} ms in an empty record, {full * 1e3:.1f} ms in a full one")

    assert full < APPEND_LIMIT_S


VERIFY = """
import json, resource, sys, time
from pathlib import Path
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify
with Journal.open(Path(sys.argv[1])) as journal:
    before = time.process_time()
    found = verify(journal, clips=False)
    cpu_s = time.process_time() - before
mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([found.exams, found.events, [str(each) for each in found.faults[:3]], cpu_s, mib]))
"""


def test_what_verifying_takes(folder: Path) -> None:
    """In a process of its own, so that its memory is its own; processor time, for other programs run beside it."""
    done = subprocess.run(
        [sys.executable, "-c", VERIFY, str(folder)], capture_output=True, text=True, check=True
    )
    exams, events, faults, cpu_s, mib = json.loads(done.stdout)
    print(f"verify: {events} events in {cpu_s:.1f} s of CPU, {mib:.0f} MiB")

    assert faults == []
    assert exams >= EXAMS
    assert cpu_s < VERIFY_CPU_S_AN_EVENT * events
    assert mib < VERIFY_MIB
