"""`voicelog completion`: the script by which a shell completes commands, options and their values."""

import argparse

import shtab


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """For which shell."""
    parser.add_argument("shell", choices=shtab.SUPPORTED_SHELLS, help="which shell")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the script; it names every command as it is today, and needs no voicelog to run."""
    from voicelog.cli import COMMANDS, parser_with

    print(shtab.complete(parser_with(COMMANDS), options.shell))
    return 0
