"""Run by test_killed.py: a live exam of the demo that is kept in the record, until it is killed.

    python -m tests.live.killed_child PACE

Prints the number of each event once it is kept, which is when it is shown.
"""

import os
import sys

from rich.console import Console

from tests.english import load
from voicelog.cli.keeping import kept_record
from voicelog.demo import demo_audio
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.live.exam import LiveExam, LiveOptions
from voicelog.session import Session
from voicelog.settings import Settings

if __name__ == "__main__":
    engine = chosen_engine(Settings(), load())
    with kept_record(Settings(), keep=True) as journal, open(os.devnull, "w", encoding="utf-8") as nowhere:
        assert journal is not None
        session = Session(Settings(), engine=engine, store=journal.begin())
        session.listen(lambda event, _: print(event.number, flush=True))
        options = LiveOptions(source=demo_audio(), pace=sys.argv[1])  # type: ignore[arg-type]
        LiveExam(session, engine, options, Console(file=nowhere)).run()
