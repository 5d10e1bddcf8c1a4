"""`voicelog screen`: a list of children, an exam each, and a table of what they came to against limits by age."""

import argparse
import json
import sys
from datetime import date
from pathlib import Path

from voicelog.cli.exam import add_live_options, run_live
from voicelog.cli.parsing import day
from voicelog.cli.record_common import journal_of
from voicelog.errors import VoicelogError, reason_of
from voicelog.exam.age_verdicts import GUIDELINES
from voicelog.live.exams import Exams
from voicelog.live.round import Patients
from voicelog.live.walk import Walk
from voicelog.record.inert import inert
from voicelog.record.listing import between
from voicelog.record.places import write_private
from voicelog.record.screening.outcomes import Screening, screening
from voicelog.record.screening.roster import Roster, read_roster
from voicelog.record.screening.words import as_data, lines, table
from voicelog.session import Session
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Which list, which exams of it count, and how it is run and shown."""
    parser.add_argument(
        "list", type=Path, metavar="FILE.csv", help="with the columns reference, years, months"
    )
    parser.add_argument("--table", action="store_true", help="only the table of what was found so far")
    parser.add_argument("--since", type=day, metavar="YYYY-MM-DD", help="exams from this day on; none: today")
    parser.add_argument("--csv", type=Path, metavar="NEW_FILE", help="the table as a file")
    add_live_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Walk through the list, unless the table alone is asked for; then print it.

    Raises RosterError, and what `run_live` raises.
    """
    if options.csv is not None and options.csv.exists():
        raise VoicelogError(f"{options.csv} exists and is not written over: name another file with --csv")
    roster = read_roster(options.list)
    for problem in roster.problems:
        print(inert(problem), file=sys.stderr)
    if not options.table:
        _walk(options, roster)
    found = _found(options, roster)
    if options.json:
        print(json.dumps(as_data(found), indent=2))
    else:
        print("\n".join(inert(line) for line in lines(found)))
    if options.csv is not None:
        try:
            write_private(options.csv, table(found).encode())
        except OSError as error:
            raise VoicelogError(f"{options.csv} cannot be written: {reason_of(error)}") from None
    return 0


def _walk(options: argparse.Namespace, roster: Roster) -> None:
    done = _found(options, roster).done

    def start(exams: Exams) -> tuple[Session, Patients]:
        walk = Walk(exams, roster, done)
        return exams.continued() if options.goes_on else walk.begin(), walk.patients

    run_live(options, start, opens=True)


def _found(options: argparse.Namespace, roster: Roster) -> Screening:
    since, _ = between(options.since or date.today(), None)
    with journal_of(load_settings().record_server) as journal:
        return screening(journal, roster, GUIDELINES, since)
