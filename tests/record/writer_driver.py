"""One room's program: appends exams to a shared record, and prints what was acknowledged and the longest wait."""

import json
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

from voicelog.exam.events import Started
from voicelog.record.journal import Journal

from .cases import heard_words


def write(folder: Path, server: str | None, exams: int, events: int) -> dict[str, object]:
    """Exams of `events` events each, as fast as it goes."""
    waits, acknowledged = [], []
    with Journal.open(folder, server) as journal:
        for _ in range(exams):
            store = journal.begin()
            for number in range(events):
                now = datetime.now(UTC)
                event = Started(at=now, naming="streak") if number == 0 else heard_words(store, "x", now)
                start = time.perf_counter()
                store.append(event)
                waits.append(time.perf_counter() - start)
                acknowledged.append([store.exam, number])
    return {"acknowledged": acknowledged, "longest_s": max(waits), "median_s": sorted(waits)[len(waits) // 2]}


if __name__ == "__main__":
    place, url, exam_count, event_count = sys.argv[1:]
    print(json.dumps(write(Path(place), url or None, int(exam_count), int(event_count))))
