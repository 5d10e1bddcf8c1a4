"""`voicelog review`: the page with the exams that were kept."""

import argparse
import threading
import time

from voicelog.cli.page_options import add_page_options, binding, opens_browser
from voicelog.page.serving import PageServer
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Where the page is served."""
    add_page_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Serve the exams until Ctrl-C. Raises PageError."""
    with PageServer(binding(options), settings=load_settings()) as server:
        journal = (
            server.page.journal
        )  # what is wrong with the record is said here as well, not in the browser only
        threading.Thread(target=journal.read_ahead, name="read ahead", daemon=True).start()
        server.open("/review", browser=opens_browser(options))
        while True:
            time.sleep(3600)
