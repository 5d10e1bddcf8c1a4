"""`voicelog audit`: how the examiner's retinoscopy agrees with the refined result, over chosen exams."""

import argparse
import json
from collections.abc import Iterator

from voicelog.cli.parsing import day
from voicelog.cli.record_common import journal_of
from voicelog.record.audit_words import as_data, lines
from voicelog.record.auditing import audit
from voicelog.record.exams import ExamRecord
from voicelog.record.inert import inert
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted, between
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Which exams, which condition, and in which form."""
    parser.add_argument("--since", type=day, metavar="YYYY-MM-DD", help="from this day on")
    parser.add_argument("--until", type=day, metavar="YYYY-MM-DD", help="up to this day")
    parser.add_argument("--reference", metavar="TEXT", help="only exams with this in their reference")
    parser.add_argument(
        "--wet", action="store_true", help="retinoscopies under cycloplegia, not those without"
    )
    parser.add_argument("--json", dest="as_json", action="store_true", help="print JSON")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Raises VoicelogError."""
    with journal_of(load_settings().record_server) as journal:
        since, until = between(options.since, options.until)
        wanted = Wanted(since=since, until=until, reference=options.reference, limit=max(1, journal.count()))
        found = audit(_exams(journal, wanted), "wet" if options.wet else "dry")
    if options.as_json:
        print(json.dumps(as_data(found), indent=2))
    else:
        print("\n".join(inert(line) for line in lines(found)))
    return 0


def _exams(journal: Journal, wanted: Wanted) -> Iterator[tuple[str, ExamRecord]]:
    for each in journal.overviews(wanted):
        yield each.id, journal.exam(each.id)
