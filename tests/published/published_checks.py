"""Reading printed lenses for the checks in this folder.

Every check names its source beside it. Printed answers are never adjusted: where the package disagrees with
print, the test says why and shows what the printed number comes from.
"""

import re

from voicelog.optics import SpheroCylinder

_LENS = re.compile(
    r"(?P<sphere>pl|[+-]\d+\.\d+)\s*(?:(?P<cylinder>[+-]\d+\.\d+)\s*x\s*(?P<axis>\d+(?:\.\d+)?))?"
)


def lens(text: str) -> SpheroCylinder:
    """A lens as printed: "+1.50 -0.50 x125", "pl -0.50 x058", "+3.50"."""
    match = _LENS.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"{text!r} is not a printed lens")
    sphere = 0.0 if match["sphere"] == "pl" else float(match["sphere"])
    if match["cylinder"] is None:
        return SpheroCylinder(sphere)
    return SpheroCylinder(sphere, float(match["cylinder"]), float(match["axis"]))
