"""Options of the commands that serve the page, and where it is served by them."""

import argparse
import os
import sys
from pathlib import Path

from voicelog.page.access import LOOPBACK, Binding


def add_page_options(parser: argparse.ArgumentParser, *, optional: bool = False) -> None:
    """Where the page is served; `optional`: only when a port is named."""
    free = "serve the page there; none: no page" if optional else "of the page; none: any that is free"
    parser.add_argument("--port", type=_port, metavar="N", help=free)
    parser.add_argument("--no-open", action="store_true", help="print the page's address, open no browser")
    parser.add_argument(
        "--host",
        default=LOOPBACK,
        metavar="ADDRESS",
        help="for other machines: needs --certificate, --key and a passphrase in VOICELOG_PASSPHRASE",
    )
    parser.add_argument("--certificate", type=Path, metavar="FILE", help="TLS certificate, PEM")
    parser.add_argument("--key", type=Path, metavar="FILE", help="its key, PEM")


def binding(options: argparse.Namespace) -> Binding:
    """Where the page is to be served. Raises PageError."""
    passphrase = os.environ.get("VOICELOG_PASSPHRASE") or None
    return Binding(options.host, options.port or 0, options.certificate, options.key, passphrase)


def opens_browser(options: argparse.Namespace) -> bool:
    """Whether a browser is wanted and can be shown; without a desktop, one in the terminal would take it over."""
    desktop = sys.platform in ("win32", "darwin") or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY")
    )
    return desktop and not options.no_open and not getattr(options, "json", False)


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 5 and 1 <= int(text) <= 65_535):
        raise argparse.ArgumentTypeError(f"{text!r} is not a port, 1 to 65535")
    return int(text)
