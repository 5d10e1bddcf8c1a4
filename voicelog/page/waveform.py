"""The sound of an entry as a drawing: loudest sample of each piece, above and below a middle line."""

from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from voicelog.hearing.levels import Samples

WIDTH: Final = 160
HEIGHT: Final = 32
_PIECES: Final = 80


def waveform(samples: Samples) -> str:
    """An SVG path, 160 wide and 32 high, of samples of shape (n,), -1 to 1; the loudest piece fills the height."""
    pieces = [np.abs(piece).max(initial=0.0) for piece in np.array_split(samples, _PIECES)]
    loudest = max(pieces) or 1.0
    half = HEIGHT / 2
    heights = [max(1, round(half * float(each / loudest))) for each in pieces]
    step = WIDTH // _PIECES
    return "".join(f"M{at * step} {half - h:g}v{2 * h}" for at, h in enumerate(heights))


def waveform_of(path: Path) -> str:
    """The drawing of a sound file; empty when it cannot be read."""
    try:
        samples, _ = soundfile.read(path, dtype="float32", always_2d=True)
    except (OSError, soundfile.SoundFileError):
        return ""
    return waveform(samples[:, 0])
