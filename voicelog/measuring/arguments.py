"""The arguments of `voicelog bench recognition` and `bench calibrate`; imports nothing heavy before it runs."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from voicelog.measuring.commands import Selection


def add_commands(benches: Any) -> None:
    """Add both commands to the choices of `bench`."""
    recognition = benches.add_parser(
        "recognition", help="how often phrases are entered right, asked about, silently wrong; and other talk"
    )
    _selection_options(recognition)
    recognition.add_argument(
        "--listeners",
        type=_names,
        metavar="A,B",
        help="of moonshine (the policy single), normal, cautious, free (dictation, then parsing), "
        "sphinx, sphinx-forced; the first four unless named",
    )
    recognition.add_argument("--json", type=Path, metavar="FILE", help="write all counts")
    recognition.add_argument("--plot", type=Path, metavar="FILE.svg", help="draw them against noise")
    recognition.add_argument(
        "--misses", action="store_true", help="name every phrase that was not entered right"
    )
    recognition.set_defaults(run=_recognition)

    calibrate = benches.add_parser(
        "calibrate", help="choose the limits on one half of the speakers, report on the other"
    )
    _selection_options(calibrate)
    calibrate.add_argument("--listener", default="normal", help="whose limits (default: normal)")
    calibrate.add_argument(
        "--silently-wrong",
        type=_share,
        default=0.001,
        metavar="SHARE",
        help="greatest share of phrases (default: 0.001)",
    )
    calibrate.add_argument(
        "--talk-entered", type=_rate, default=0.0, metavar="N", help="greatest entries an hour of other talk"
    )
    calibrate.add_argument(
        "--talk-asked", type=_rate, default=1.0, metavar="N", help="greatest questions in ten minutes of it"
    )
    calibrate.add_argument("--to", type=Path, metavar="FILE.toml", help="write the file of limits")
    calibrate.add_argument("--json", type=Path, metavar="FILE", help="write the figures")
    calibrate.set_defaults(run=_calibrate)


def _selection_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "corpora", type=Path, nargs="+", metavar="CORPUS", help="a manifest, or a folder with manifest.tsv"
    )
    parser.add_argument(
        "--rule",
        type=_names,
        default=("entry",),
        metavar="A,B",
        help="for rows that name none: the first of these rules that has the transcript as a phrase",
    )
    parser.add_argument("--split", choices=("all", "tuning", "test"), default="all")
    parser.add_argument("--voices", type=_names, default=(), metavar="A,B", help='as in "kokoro-*,piper-*"')
    parser.add_argument(
        "--sample", type=_whole, metavar="N", help="N random rows of each set, condition, noise and split"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--phrases-only", action="store_true", help="leave out rows of other talk")
    parser.add_argument(
        "--cache", type=Path, metavar="FILE", help="what was heard (default: hearings.jsonl in this folder)"
    )
    parser.add_argument("--jobs", type=_whole, default=1, metavar="N", help="processes")
    parser.add_argument(
        "--renew", action="store_true", help="hear again what another version of the program or grammar heard"
    )
    parser.add_argument("--limits", type=Path, metavar="FILE.toml", help="other limits than those shipped")


def _selection(options: argparse.Namespace) -> "Selection":
    from voicelog.measuring.commands import DEFAULT_CACHE, Selection

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


def _recognition(options: argparse.Namespace) -> None:
    from voicelog.measuring import commands
    from voicelog.measuring.listeners import DEFAULT_NAMES

    commands.recognition(
        _selection(options),
        options.listeners or DEFAULT_NAMES,
        json_to=options.json,
        plot_to=options.plot,
        misses=options.misses,
    )


def _calibrate(options: argparse.Namespace) -> None:
    from voicelog.measuring import commands
    from voicelog.measuring.choosing import Target

    target = Target(options.silently_wrong, options.talk_entered, options.talk_asked)
    commands.calibrate(
        _selection(options), options.listener, target=target, to=options.to, json_to=options.json
    )


def _names(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if not names:
        raise argparse.ArgumentTypeError("names nothing")
    return names


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 1_000_000:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1")
    return int(text)


def _share(text: str) -> float:
    share = _rate(text)
    if share > 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a share from 0 to 1")
    return share


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        rate = -1.0
    if not 0.0 <= rate < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 0")
    return rate
