"""The arguments of `voicelog record` and `voicelog export`; imports nothing heavy before they run."""

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from voicelog.settings import load_settings


def add_commands(commands: Any) -> None:
    """Add `record` and `export` to the commands."""
    record = commands.add_parser("record", help="the exams that were kept")
    record_commands = record.add_subparsers(required=True, metavar="COMMAND")

    listed = record_commands.add_parser("list", help="the newest exams")
    listed.add_argument("--since", type=date.fromisoformat, metavar="YYYY-MM-DD", help="from this day on")
    listed.add_argument("--until", type=date.fromisoformat, metavar="YYYY-MM-DD", help="up to this day")
    listed.add_argument("--reference", help="a part of the reference")
    listed.add_argument("--unresolved", action="store_true", help="only exams with open points")
    listed.add_argument("--limit", type=_count, default=50, metavar="N")
    listed.add_argument("--json", dest="as_json", action="store_true")
    listed.set_defaults(run=_recorded("list_exams"))

    shown = record_commands.add_parser("show", help="one exam with its ledger")
    shown.add_argument("named", metavar="EXAM", help="its name or the start of it, its reference, or last")
    shown.add_argument("--json", dest="as_json", action="store_true")
    shown.set_defaults(run=_recorded("show"))

    amended = record_commands.add_parser("amend", help="put an entry right with a reason, or add words")
    amended.add_argument("named", metavar="EXAM")
    amended.add_argument("--by", required=True, metavar="INITIALS")
    amended.add_argument("--entry", type=_count, metavar="N", help="number of the entry, as show prints it")
    amended.add_argument("--to", metavar="PHRASE", help="what it should be")
    amended.add_argument("--withdraw", action="store_true", help="take it out")
    amended.add_argument("--reason")
    amended.add_argument("--add", metavar="TEXT", help="words that change no entry")
    amended.set_defaults(run=_recorded("amend"))

    attested = record_commands.add_parser(
        "attest", help="vouch for an exam; afterwards only words can be added"
    )
    attested.add_argument("named", metavar="EXAM")
    attested.add_argument("--by", required=True, metavar="INITIALS")
    attested.add_argument("--despite-open-points", action="store_true")
    attested.set_defaults(run=_recorded("attest"))

    verified = record_commands.add_parser("verify", help="prove that nothing was changed")
    verified.add_argument("--refresh", action="store_true", help="work the list's results out anew first")
    verified.set_defaults(run=_recorded("verify"))

    saved = record_commands.add_parser("backup", help="copy the record to a new folder, and check the copy")
    saved.add_argument("folder", type=Path)
    saved.set_defaults(run=_recorded("backup"))

    restored = record_commands.add_parser("restore", help="put a backup in the place of the record")
    restored.add_argument("folder", type=Path)
    restored.add_argument(
        "--replace", action="store_true", help="although the record holds exams; they are kept aside"
    )
    restored.set_defaults(run=_recorded("restore"))

    export = commands.add_parser("export", help="one exam as FHIR, CSV, JSON or a printed page")
    export.add_argument("named", metavar="EXAM")
    export.add_argument("--format", dest="form", choices=("fhir", "csv", "json", "report"), required=True)
    export.add_argument("--to", type=Path, metavar="FILE", help="a new file; none: standard output")
    export.set_defaults(run=_recorded("export"))


def _recorded(name: str) -> Callable[[argparse.Namespace], int]:
    """Run a function of `voicelog.record.commands` with the arguments as they were given; false: there are faults."""

    def run(options: argparse.Namespace) -> int:
        from voicelog.record import commands

        given = {key: value for key, value in vars(options).items() if key != "run"}
        found = getattr(commands, name)(**given, server=load_settings().record_server)
        return 2 if found is False else 0

    return run


def _count(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number")
    return int(text)
