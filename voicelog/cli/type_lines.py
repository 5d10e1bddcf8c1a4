"""`voicelog type`: typed phrases from standard input, one a line."""

import argparse
from functools import partial

from voicelog.cli.exam_options import add_exam_options, add_kept_options, settings_of
from voicelog.cli.keeping import kept
from voicelog.cli.printing import entered, print_exam, standard_input
from voicelog.session import Session


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How the exam is understood and kept."""
    add_exam_options(parser)
    add_kept_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Take the lines and print the exam they make; 2 when the record refused one, which ends it."""
    settings = settings_of(options)
    all_entered = True
    with kept(settings, keep=not options.no_record) as store:
        session = Session(settings, store=store, reference=options.reference)
        for line in standard_input():
            if line.strip() and not entered(partial(session.type_line, line), line.strip()):
                all_entered = False
                break
        print_exam(session, as_json=options.json)
    return 0 if all_entered else 2
