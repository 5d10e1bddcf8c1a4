"""Makes two_phrases.flac: two phrases of an eSpeak NG voice at known places, in faint noise.

    python tests/hearing/audio/make.py

eSpeak NG (espeak-ng 1.51, GPL-3.0-or-later; sound made with it is free of its licence) has to be installed.
"""

import io
import subprocess
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

RATE_HZ = 16000
PHRASES = ("right eye", "streak vertical neutral with plus three")
PAUSE_S = 0.8
NOISE_RMS = 0.0005


def spoken(text: str) -> npt.NDArray[np.float64]:
    """`text` as sound, without the silence around it."""
    made = subprocess.run(["espeak-ng", "-v", "en-us", "--stdout", text], check=True, capture_output=True)
    sound, rate_hz = soundfile.read(io.BytesIO(made.stdout))
    loud = np.flatnonzero(np.abs(sound) > 0.01)
    return np.asarray(soxr.resample(sound[loud[0] : loud[-1]], rate_hz, RATE_HZ))


def main() -> None:
    pause = np.zeros(round(PAUSE_S * RATE_HZ))
    pieces = [pause]
    for phrase in PHRASES:
        start = sum(len(piece) for piece in pieces)
        pieces += [spoken(phrase), pause]
        print(f"{phrase}: {start} to {start + len(pieces[-2])}")
    sound = np.concatenate(pieces)
    sound += np.random.default_rng(3).normal(0.0, NOISE_RMS, len(sound))
    soundfile.write(Path(__file__).with_name("two_phrases.flac"), sound, RATE_HZ)


if __name__ == "__main__":
    main()
