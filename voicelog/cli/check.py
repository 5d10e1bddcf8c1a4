"""`voicelog check`: is the microphone good enough, is everything there?"""

import argparse
import json
from pathlib import Path

from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.microphone import MicrophoneSource
from voicelog.hearing.sources import FileSource, Source
from voicelog.live import devices, preflight
from voicelog.phrases.grammar import load_named
from voicelog.record.places import data_folder
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What is listened to, and for how long."""
    parser.add_argument(
        "--seconds", type=_seconds, default=10.0, metavar="N", help="how long it listens (default: 10)"
    )
    parser.add_argument("--device", metavar="NAME", help="part of the microphone's name")
    parser.add_argument("--source", type=Path, metavar="FILE", help="a recording instead of the microphone")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Listen for some seconds and say whether an exam can begin; 2 when something is wrong.

    It listens to what an exam would listen to. Raises MissingPartError without PortAudio or when no sound comes in.
    """
    settings = load_settings()
    grammar = load_named(settings.language)
    engine = chosen_engine(settings, grammar)
    source: Source
    if options.source:
        source = FileSource(options.source)
    else:
        source = MicrophoneSource(devices.chosen(options.device, settings.microphone))
    if not options.json:
        print(
            f"For {options.seconds:g} seconds: be silent for a moment, "
            f'then say "{preflight.SAMPLE_SENTENCE}".'
        )
    sound = preflight.sound_of(source, options.seconds)
    found = preflight.report(sound, engine, grammar, data_folder())
    if options.json:
        print(json.dumps(found.as_json()))
    else:
        print("\n".join(_lines(found)))
    return 2 if found.problems else 0


def _lines(found: preflight.Report) -> list[str]:
    speech = "none" if found.speech_dbfs is None else f"{found.speech_dbfs:.0f} dBFS"
    heard = "nothing" if found.heard is None else f"{found.heard} ({found.outcome})"
    return [
        f"level        {found.level_dbfs:.0f} dBFS, speech {speech}",
        f"noise floor  {found.noise_floor_dbfs:.0f} dBFS",
        f"clipping     {100 * found.clipped_fraction:.2f} %",
        f"engine       {found.engine}",
        f"disk         {found.disk_free_bytes / 1e9:.1f} GB free for clips",
        f"heard        {heard}",
        *(f"! {problem}" for problem in found.problems),
        *(() if found.problems else ("ready",)),
    ]


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0.0 < seconds <= 600.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not a time above 0 and up to 600 s")
    return seconds
