"""The dictated examination that `voicelog demo` replays: who says what, and what the eyes truly measure.

    python -m tests.corpora.demo_scenario voicelog/demo --clips FOLDER     renders exam.flac and its README.md

The lines are in demo_script.tsv (role, pause_s before the line, text); change them there and run the command
again. The person is invented. Right eye: sphere and cylinder at an oblique axis. Left eye: two spheres. One
value that was taken wrongly is put right by voice, one entry is withdrawn, and the patient and an assistant
talk in between.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.signal import lfilter

from .levels import RATE_HZ, Samples, active_level_dbfs, gained, rms_dbfs
from .rooms import CONSULTING_ROOM, reverberated
from .synthesise import Task, read_flac, render, write_flac
from .voices import by_name

SCRIPT = Path(__file__).with_name("demo_script.tsv")
ROLES = {"examiner": "kokoro-af_heart", "patient": "kokoro-am_michael", "assistant": "kokoro-bf_emma"}
FAR_ROLES = ("patient", "assistant")
FAR_GAIN_DB = -4.0
SNR_DB = 30.0
TAIL_S = 1.5
NOISE_SEED = 20


@dataclass(frozen=True, slots=True)
class Refraction:
    """A refraction in minus-cylinder form, dioptres and degrees."""

    sphere_d: float
    cylinder_d: float
    axis_deg: int


# Worked by hand from the script; working distance 67 cm, allowance 1.50 D, lens out, streak naming. Right:
# streak 125 (meridian 35) gross +2.25; then cylinder -1.25 axis 35 on top, so meridian 125 is +1.00 gross.
# Net +0.75 along 35, -0.50 along 125. Left: streak horizontal (meridian 90) gross -1.25 after the correction,
# streak vertical (meridian 180) gross -2.75 after the withdrawal. Net -2.75 along 90, -4.25 along 180.
TRUTH = {"right": Refraction(0.75, -1.25, 35), "left": Refraction(-2.75, -1.50, 90)}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the script; `pause_s` is the silence before it."""

    role: str
    pause_s: float
    text: str


def script() -> list[Line]:
    """The lines of the demo. Raises ValueError for a role without a voice."""
    with SCRIPT.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file, delimiter="\t")
        lines = [Line(row["role"], float(row["pause_s"]), row["text"]) for row in rows]
    for line in lines:
        if line.role not in ROLES:
            raise ValueError(f"{SCRIPT.name}: role {line.role!r} has no voice; roles: {', '.join(ROLES)}")
    return lines


def room_noise(length: int) -> Samples:
    """A hum and hiss of our own making: white noise through a one-pole low-pass at about 400 Hz."""
    white = np.random.default_rng(NOISE_SEED).standard_normal(length)
    return np.asarray(lfilter([1.0], [1.0, -0.85], white), dtype=np.float32)


def _heard(line: Line, task: Task) -> Samples:
    """The line in the room: the examiner wears the microphone, the others are further away and softer."""
    if line.role in FAR_ROLES:
        return gained(reverberated(read_flac(task.path), CONSULTING_ROOM.further()), FAR_GAIN_DB)
    return reverberated(read_flac(task.path), CONSULTING_ROOM)


def recorded(clips: Path, jobs: int = 2) -> Samples:
    """The whole examination at 16 kHz, shape (n,); voice clips are kept in `clips`."""
    lines = script()
    tasks = [Task(line.text, by_name(ROLES[line.role]), clips) for line in lines]
    render(tasks, jobs)
    pieces: list[Samples] = []
    for line, task in zip(lines, tasks, strict=True):
        pieces += [np.zeros(round(line.pause_s * RATE_HZ), np.float32), _heard(line, task)]
    speech = np.concatenate([*pieces, np.zeros(round(TAIL_S * RATE_HZ), np.float32)])
    noise = room_noise(len(speech))
    return gained(speech + gained_to(noise, active_level_dbfs(speech) - SNR_DB), 0.0)


def gained_to(noise: Samples, level_dbfs: float) -> Samples:
    """`noise` brought to an RMS level."""
    return gained(noise, level_dbfs - rms_dbfs(noise))


_README = """# The dictated demo examination

`exam.flac`: {duration_s:.0f} s, 16 kHz mono FLAC. The person is invented and the voices are synthetic. Made by
`python -m tests.corpora.demo_scenario voicelog/demo --clips FOLDER` from `tests/corpora/demo_script.tsv`; this
file is written by the same command. The room (synthetic impulse response) and its noise (filtered random numbers,
{snr_db:g} dB below the speech) are our own.

| role | voice | licence |
|---|---|---|
{voices}

What the eyes truly measure (distance 67 cm, allowance 1.50 D taken off, streak naming):

| eye | sphere | cylinder | axis |
|---|--:|--:|--:|
{truths}

| who | pause before, s | line |
|---|--:|---|
{lines}
"""


def readme(duration_s: float) -> str:
    """The text that lies beside the recording: what it is, its voices and licences, its truth, its lines."""
    voices = [f"| {role} | {name} | {by_name(name).licence} |" for role, name in ROLES.items()]
    truths = [
        f"| {eye} | {r.sphere_d:+.2f} | {r.cylinder_d:+.2f} | {r.axis_deg} |" for eye, r in TRUTH.items()
    ]
    lines = [f"| {line.role} | {line.pause_s:g} | {line.text} |" for line in script()]
    return _README.format(
        duration_s=duration_s,
        snr_db=SNR_DB,
        voices="\n".join(voices),
        truths="\n".join(truths),
        lines="\n".join(lines),
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Render the demo recording and its README into a folder."""
    parser = argparse.ArgumentParser(description="Render the dictated demo examination.")
    parser.add_argument("out", type=Path)
    parser.add_argument(
        "--clips", type=Path, required=True, help="folder outside the repository for voice clips"
    )
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args(arguments)
    samples = recorded(given.clips, given.jobs)
    write_flac(given.out / "exam.flac", samples)
    (given.out / "README.md").write_text(readme(len(samples) / RATE_HZ), "utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
