"""`voicelog type`: typed phrases from standard input, one a line."""

import argparse
import sys
from functools import partial

from voicelog.cli.exam_options import add_exam_options, add_kept_options, settings_of
from voicelog.cli.keeping import kept
from voicelog.cli.printing import entered, print_exam, print_kept, standard_input
from voicelog.session import Session

_HINT = """\
Type what you would say, a line each, as in: right eye. Each is answered at once.
"what have i got" reads it back, "scratch that" takes the last back. Ctrl-D ends the exam."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How the exam is understood and kept."""
    add_exam_options(parser)
    add_kept_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Take the lines and print the exam they make; 2 when the record refused one, which ends it.

    A person at a terminal is answered line by line. Ctrl-C there ends the exam as Ctrl-D does, and nothing is lost.
    """
    settings = settings_of(options)
    all_entered = True
    by_hand = sys.stdin.isatty()
    with kept(settings, keep=not options.no_record) as store:
        session = Session(settings, store=store, reference=options.reference)
        if by_hand:
            print(_HINT, file=sys.stderr)
        try:
            for line in standard_input():
                enter = partial(session.type_line, line)
                if line.strip() and not entered(enter, line.strip(), answers=by_hand):
                    all_entered = False
                    break
        except KeyboardInterrupt:
            if not by_hand:
                raise
        print_exam(session, as_json=options.json)
        if not options.json:
            print_kept(session, keep=not options.no_record)
    return 0 if all_entered else 2
