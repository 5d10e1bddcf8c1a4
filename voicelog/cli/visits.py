"""`voicelog visits`: the exams of one reference side by side."""

import argparse
import json

from voicelog.cli.record_common import journal_of
from voicelog.record.inert import inert
from voicelog.record.visit_words import as_data, lines
from voicelog.record.visits import courses, exams_of
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Whose exams, and in which form."""
    parser.add_argument("reference", metavar="REFERENCE", help="the practice's own reference, whole")
    parser.add_argument("--json", dest="as_json", action="store_true", help="print JSON")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Raises VoicelogError."""
    with journal_of(load_settings().record_server) as journal:
        found = courses(exams_of(journal, options.reference))
    if options.as_json:
        print(json.dumps(as_data(found), indent=2))
    else:
        print("\n".join(inert(line) for line in lines(found)))
    return 0
