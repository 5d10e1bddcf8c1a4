"""`voicelog hear`: one utterance a file, what was heard."""

import argparse
import json
import sys
from pathlib import Path

from voicelog.cli.exam_options import add_listener_options, settings_of
from voicelog.errors import VoicelogError
from voicelog.exam.expecting import IN_HAND, LINE
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.hear_one import hear_one
from voicelog.phrases.grammar import load_named
from voicelog.phrases.plain_words import in_plain_words
from voicelog.record.inert import inert


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Recordings, and what is listened for."""
    parser.add_argument(
        "audio", type=Path, nargs="+", metavar="AUDIO", help="a recording of one utterance: WAV, FLAC or OGG"
    )
    parser.add_argument(
        "--rule", metavar="NAME", default=f"{LINE} {IN_HAND}", help="listen for one rule of the grammar only"
    )
    parser.add_argument("--json", action="store_true", help="one object a line")
    add_listener_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Hear one utterance a file, of what is longer the beginning; 2 when a file could not be read."""
    settings = settings_of(options)
    grammar = load_named(settings.language)
    listener = chosen_engine(settings, grammar)
    grammar.walker(options.rule)
    status = 0
    for path in options.audio:
        try:
            heard = hear_one(listener, path, options.rule)
        except VoicelogError as error:
            print(inert(str(error)), file=sys.stderr)
            status = 2
            continue
        hearing, cut = heard.hearing, heard.cut_s
        best = hearing.hypotheses[0] if hearing.hypotheses else None
        text = in_plain_words(grammar, best.text) if best else hearing.free_text
        outcome = decide(hearing, grammar.language)
        if cut is not None and outcome == "accepted":
            outcome = "asked"  # its other half may say that it is another number
        if not options.json:
            end = (
                ""
                if cut is None
                else f" (cut at {cut:.1f} s: too long for one utterance, the rest is not heard)"
            )
            print(inert(f"{path}: {outcome}: {text}{end}"), flush=True)
            continue
        found = {
            "file": str(path),
            "text": text,
            "meaning": best.meanings[0].model_dump(mode="json") if best else None,
            "meanings": [each.model_dump(mode="json") for each in best.meanings] if best else [],
            "outcome": outcome,
            "score": _finite(hearing.score),
            "margin": _finite(hearing.margin),
            "seconds": round(hearing.seconds, 3),
            "cut_s": _finite(cut),
        }
        print(json.dumps(found), flush=True)
    return status


def _finite(value: float | None) -> float | None:
    return None if value is None or value in (float("inf"), float("-inf")) else round(value, 3)
