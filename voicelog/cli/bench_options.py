"""Options of both commands that measure recognition, and the selection that they make."""

import argparse
import sys
from pathlib import Path

from voicelog.cli.parsing import whole_number
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.measuring.selection import DEFAULT_CACHE, Selection


def add_selection_options(parser: argparse.ArgumentParser) -> None:
    """Which recordings are measured, and how."""
    parser.add_argument(
        "corpora", type=Path, nargs="+", metavar="CORPUS", help="a manifest, or a folder with manifest.tsv"
    )
    parser.add_argument(
        "--rule",
        type=names,
        default=(EXAM_RULES,),
        metavar="A,B",
        help="for rows that name none: the first of these rules that has the transcript as a phrase",
    )
    parser.add_argument("--split", choices=("all", "tuning", "test"), default="all", help="of which voices")
    parser.add_argument("--voices", type=names, default=(), metavar="A,B", help='as in "kokoro-*,piper-*"')
    parser.add_argument(
        "--sample",
        type=whole_number(1),
        metavar="N",
        help="N random rows of each set, condition, noise and split",
    )
    parser.add_argument(
        "--seed", type=whole_number(), default=1, metavar="N", help="the same rows every time"
    )
    parser.add_argument("--phrases-only", action="store_true", help="leave out rows of other talk")
    parser.add_argument(
        "--cache", type=Path, metavar="FILE", help="what was heard (default: hearings.jsonl in this folder)"
    )
    parser.add_argument("--jobs", type=whole_number(1), default=1, metavar="N", help="processes")
    parser.add_argument(
        "--renew", action="store_true", help="hear again what another version of the program or grammar heard"
    )
    parser.add_argument("--limits", type=Path, metavar="FILE.toml", help="other limits than those shipped")


def selection_of(options: argparse.Namespace) -> Selection:
    """The selection that the options make."""
    return Selection(
        corpora=options.corpora,
        rules=options.rule,
        split=options.split,
        voices=options.voices,
        sample=options.sample,
        seed=options.seed,
        phrases_only=options.phrases_only,
        cache=options.cache or DEFAULT_CACHE,
        jobs=options.jobs,
        renew=options.renew,
        limits=options.limits,
    )


def names(text: str) -> tuple[str, ...]:
    """Reads names that commas part."""
    found = tuple(name.strip() for name in text.split(",") if name.strip())
    if not found:
        raise argparse.ArgumentTypeError("names nothing")
    return found


def say(text: str) -> None:
    """Tell how far the measuring is."""
    print(text, file=sys.stderr, flush=True)
