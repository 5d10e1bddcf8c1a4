"""`voicelog export`: one exam in one of the formats."""

import argparse
import sys
from pathlib import Path

from voicelog.errors import VoicelogError, reason_of
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.journal import Journal
from voicelog.record.places import write_private
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Which exam, in which format, and where it goes."""
    parser.add_argument("named", metavar="EXAM", help="its name or the start of it, its reference, or last")
    parser.add_argument(
        "--format",
        dest="form",
        choices=tuple(FORMATS),
        required=True,
        help="fhir: FHIR R4; report: a printed page; note: a referral note",
    )
    parser.add_argument("--to", type=Path, metavar="FILE", help="a new file; none: standard output")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Raises VoicelogError."""
    export(options.named, options.form, to=options.to, server=load_settings().record_server)
    return 0


def export(named: str, form: str, *, to: Path | None = None, server: str | None = None) -> None:
    """Write an exam to a new file, or to standard output (what is no text, always to a file)."""
    wanted = FORMATS[form]
    with Journal.open(server=server) as journal:
        exam = journal.find(named)
        content = exported(journal, exam, wanted)
    if to is None and wanted.is_text:
        sys.stdout.buffer.write(content)
        return
    path = to or Path(f"{exam}.{wanted.ending}")
    if path.exists():
        raise VoicelogError(f"{path} exists and is not written over: name another file with --to")
    try:
        write_private(path, content)
    except OSError as error:
        raise VoicelogError(f"{path} cannot be written: {reason_of(error)}") from None
    print(path)
