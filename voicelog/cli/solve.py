"""`voicelog solve`: meridians of power and gross powers to a refraction."""

import argparse
import json
import re
from typing import Any

from voicelog.cli.exam_options import DISTANCE_CM
from voicelog.errors import VoicelogError
from voicelog.exam.summary import lens_summary
from voicelog.optics import USUAL_ERRORS, MeridianReading, WorkingDistance, solve_readings
from voicelog.screen.terminal import CAUTION, refraction

_READING = re.compile(r"([0-9]+(?:\.[0-9]+)?)=([+-]?[0-9]*\.?[0-9]+)")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The readings, and what the distance adds to them."""
    parser.add_argument(
        "--reading",
        action="append",
        required=True,
        type=_reading,
        metavar="MERIDIAN=POWER",
        help="as in 90=+3.00: gross power along a meridian; once for each",
    )
    parser.add_argument("--distance", type=DISTANCE_CM, metavar="CM", help="working distance in centimetres")
    parser.add_argument(
        "--lens-in", action="store_true", help="the working-distance lens was in: no allowance"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the refraction; status 2 where the readings give none. Raises VoicelogError and OpticsError."""
    distance_cm = options.distance
    if distance_cm is None and not options.lens_in:
        raise VoicelogError("say the working distance (--distance CM), or that its lens was in (--lens-in)")
    readings = [MeridianReading(_meridian(angle), power) for angle, power in options.reading]
    no_allowance = options.lens_in or distance_cm is None
    allowance_d = 0.0 if no_allowance else WorkingDistance(distance_cm / 100).allowance_d
    solution = solve_readings(readings, allowance_d, errors=USUAL_ERRORS)
    if options.json:
        result: dict[str, Any] = {
            "status": solution.status,
            "net": lens_summary(solution.net) if solution.net else None,
            "exact": lens_summary(solution.exact) if solution.exact else None,
            "residual": solution.residual_d,
            "allowance": allowance_d,
            "problems": [problem.text for problem in solution.problems],
        }
        print(json.dumps(result))
        return 0 if solution.net else 2
    if solution.net is None:
        raise VoicelogError(f"no refraction: {'; '.join(problem.text for problem in solution.problems)}")
    print(refraction(solution.net))
    for problem in solution.problems:
        print(f"! {problem.text}")
    print(CAUTION)
    return 0


def _reading(text: str) -> tuple[float, float]:
    match = _READING.fullmatch(text.strip())
    if not match:
        raise argparse.ArgumentTypeError(f"{text!r} is not MERIDIAN=POWER, as in 90=+3.00")
    return float(match[1]), float(match[2])


def _meridian(angle_deg: float) -> float:
    return 180.0 if angle_deg == 0 else angle_deg
