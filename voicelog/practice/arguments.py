"""Options of `voicelog practice`, and the exercise that they set."""

import argparse
from pathlib import Path

from voicelog.practice.errors import PracticeError
from voicelog.practice.exercise import TECHNIQUES, Exercise
from voicelog.practice.eye import LOOKS, EyeModel, parse_refraction, random_refraction
from voicelog.settings import Settings

USUAL_DISTANCE_CM = 67.0
SEEDS = 1_000_000


def add_options(parser: argparse.ArgumentParser) -> None:
    """What the exercise is, and how it is run."""
    parser.add_argument("--seed", type=int, metavar="N", help="the same eye every time")
    parser.add_argument(
        "--refraction", metavar="TEXT", help='the eye\'s, as in "+1.25 -1.75 x 90"; else random'
    )
    parser.add_argument("--technique", choices=TECHNIQUES, default="spheres", help="how it is to be done")
    parser.add_argument("--eye", choices=("right", "left"), default="right")
    parser.add_argument(
        "--tremor",
        type=float,
        default=0.0,
        metavar="D",
        help="how much accommodation wavers (standard deviation)",
    )
    parser.add_argument(
        "--noise",
        type=float,
        default=0.0,
        metavar="D",
        help="how unsure motion is near neutral (standard deviation)",
    )
    parser.add_argument("--reflex", choices=LOOKS, default="plain", help="how the reflex looks")
    parser.add_argument(
        "--mirror", choices=("plane", "concave"), default="plane", help="setting of the sleeve"
    )
    parser.add_argument(
        "--working-lens",
        choices=("out", "in"),
        default="out",
        help="in: it stands in the frame from the start",
    )
    parser.add_argument("--watch", action="store_true", help="a scripted examiner does it; look on")
    parser.add_argument("--voice", action="store_true", help="speak instead of typing")
    parser.add_argument("--page", action="store_true", help="draw it moving, on a page in the browser")
    parser.add_argument("--device", metavar="NAME", help="with --voice: part of the microphone's name")
    parser.add_argument(
        "--source", type=Path, metavar="FILE", help="with --voice: a recording instead of the microphone"
    )


def exercise(options: argparse.Namespace, settings: Settings, seed: int) -> Exercise:
    """The exercise that the options set. Raises PracticeError for a value that cannot be, or that fits no other."""
    if options.watch and (options.voice or options.mirror == "concave"):
        other = "--voice" if options.voice else "--mirror concave"
        raise PracticeError(
            f"--watch and {other} do not go together: the scripted examiner types, plane mirror"
        )
    if options.source and not options.voice:
        raise PracticeError("--source needs --voice: a recording is heard")
    given = options.refraction
    model = EyeModel(
        random_refraction(seed) if given is None else parse_refraction(given),
        look=options.reflex,
        tremor_d=options.tremor,
        noise_d=options.noise,
    )
    return Exercise(
        model,
        seed,
        options.eye,
        settings.working_distance_cm or USUAL_DISTANCE_CM,
        options.working_lens == "in",
        options.mirror == "concave",
        options.technique,
    )
