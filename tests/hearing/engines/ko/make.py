"""Makes korean.ogg: the lines below by espeak-ng's Korean voice (formant synthesis; the program and its data are
GPL-3.0-or-later, which leaves the sound it makes free), with white noise at -55 dBFS as in a quiet room.

Run from the top folder: python -m tests.hearing.engines.ko.make
"""

import io
import subprocess
from pathlib import Path

import numpy as np
import soundfile
import soxr

RATE_HZ = 16_000
HERE = Path(__file__).parent
PAUSE_S = 0.4
DIGITS = ("하나", "둘", "셋", "넷", "다섯", "여섯", "일곱", "여덟", "아홉")
ENTRIES = (
    "예",
    "아니요",
    "다시",
    "오른쪽",
    "왼쪽",
    "플러스 이",
    "플러스 사",
    "마이너스 이",
    "마이너스 삼",
    "마이너스 사",
)
# Hello, nice weather today. Please go to the left. Please close the door.
TALK = ("안녕하세요 오늘 날씨가 좋네요", "왼쪽으로 가세요", "문을 닫아 주세요")
LINES = DIGITS + ENTRIES + TALK


def spoken(text: str) -> np.ndarray:
    """One line at 16 kHz, with silence before and after."""
    command = ["espeak-ng", "-v", "ko", "-s", "150", "--stdout", text]
    done = subprocess.run(command, check=True, capture_output=True)
    samples, rate_hz = soundfile.read(io.BytesIO(done.stdout), dtype="float32")
    pause = np.zeros(int(PAUSE_S * RATE_HZ), np.float32)
    return np.concatenate([pause, 0.7 * soxr.resample(samples, rate_hz, RATE_HZ), pause])


def main() -> None:
    """Write the sound and, beside it, where each line is."""
    pieces = [spoken(text) for text in LINES]
    edges = np.cumsum([0, *(len(piece) for piece in pieces)])
    sound = np.concatenate(pieces)
    sound = sound + np.random.default_rng(1).normal(0, 10 ** (-55 / 20), sound.size)
    soundfile.write(HERE / "korean.ogg", sound, RATE_HZ, format="OGG", subtype="OPUS")
    rows = [
        f"{text}\t{start}\t{end}\n" for text, start, end in zip(LINES, edges[:-1], edges[1:], strict=True)
    ]
    (HERE / "korean.tsv").write_text("".join(["text\tstart_sample\tend_sample\n", *rows]), encoding="utf-8")


if __name__ == "__main__":
    main()
