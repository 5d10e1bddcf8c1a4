"""Consulting-room talk that the log must leave out: single sentences, and hours of two-voice dialogue.

    python -m tests.corpora.talk sentences OUT [--voices ...] [--takes 3]
    python -m tests.corpora.talk dialogue OUT --noise FOLDER [--minutes 120] [--seed 1]

`sentences` says each of the 200 sentences of talk_sentences.txt with some of the voices in turn. `dialogue`
composes exchanges from talk_exchanges.txt with numbers, times, prices and trade words filled in, gives
examiner and patient different voices of one half, leaves silences between the turns, and puts both in a room
with background noise. It writes FLAC files of ten minutes and, beside each, a .tsv of who said what when
(start_s, end_s, speaker, text).
"""

from __future__ import annotations

import argparse
import functools
import random
import re
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .engines import SpeechError
from .levels import RATE_HZ, Samples
from .rooms import CONSULTING_ROOM, NoiseShelf, add_noise, reverberated
from .synthesise import Row, Task, add_voice_options, dry_row, read_flac, render, write_flac, write_manifest
from .voices import Voice, select

HERE = Path(__file__).parent
SENTENCES = HERE / "talk_sentences.txt"
EXCHANGES = HERE / "talk_exchanges.txt"
SLOTS = HERE / "talk_slots.txt"

FILE_S = 600.0
DIALOGUE_SNR_DB = 25.0
PAUSE_S = (0.25, 1.6)
LONG_PAUSE_S = (2.0, 7.0)


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn of talk: `role` is "E" for the examiner or "P" for the patient."""

    role: str
    text: str


def _turns(lines: Sequence[str]) -> list[Turn]:
    return [Turn(line[0], line[3:].strip()) for line in lines if line[:3] in ("E: ", "P: ")]


def sentences() -> list[Turn]:
    """The 200 single sentences."""
    return _turns(SENTENCES.read_text("utf-8").splitlines())


def exchanges() -> list[list[Turn]]:
    """The exchanges, with their slots unfilled."""
    blocks = EXCHANGES.read_text("utf-8").split("\n\n")
    return [turns for block in blocks if (turns := _turns(block.splitlines()))]


@functools.cache
def slots() -> dict[str, list[str]]:
    """The values of every slot."""
    lines = [line for line in SLOTS.read_text("utf-8").splitlines() if line and not line.startswith("#")]
    return {name: values.strip().split(", ") for name, _, values in (line.partition(":") for line in lines)}


def filled(text: str, chance: random.Random) -> str:
    """`text` with every {slot} replaced by one of its values; raises KeyError for a slot that has none."""
    text = re.sub(r"\{(\w+)\}", lambda slot: chance.choice(slots()[slot[1]]), text)
    return text[:1].upper() + text[1:]


def conversation(chance: random.Random) -> Iterator[Turn]:
    """Endless talk: every exchange once in random order, single sentences between them, and round again."""
    while True:
        order, spare = exchanges(), sentences()
        chance.shuffle(order)
        chance.shuffle(spare)
        for exchange in order:
            yield from (Turn(turn.role, filled(turn.text, chance)) for turn in exchange)
            yield from (spare.pop() for _ in range(chance.randint(0, 3)) if spare)


@dataclass(frozen=True, slots=True)
class Placed:
    """A turn on the time line of a file: the silence before it, and the clip that says it."""

    pause_s: float
    task: Task


@dataclass(frozen=True, slots=True)
class Scene:
    """One long file: its number, the placed turns, and the two voices."""

    number: int
    placed: list[Placed]
    pair: tuple[Voice, Voice]


SECONDS_A_WORD = 0.33
"""Rough speaking time used to plan how many turns fill a file, before anything is rendered."""


def plan(minutes: float, voices: Sequence[Voice], clips: Path, seed: int) -> list[Scene]:
    """Scenes that last about `minutes` together; each file has its own two people, both of one half.

    The halves take turns. Raises SpeechError when neither has two people among `voices`.
    """
    chance = random.Random(seed)
    talk = conversation(chance)
    casts = [cast for half in ("test", "tuning") if len(_people(cast := _of(voices, half))) > 1]
    if not casts:
        raise SpeechError("dialogue needs two people of one half among the chosen voices")
    scenes: list[Scene] = []
    for number in range(1, max(1, round(minutes * 60 / FILE_S)) + 1):
        cast = casts[(number - 1) % len(casts)]
        examiner = chance.choice(cast)
        patient = chance.choice([voice for voice in cast if voice.speaker != examiner.speaker])
        placed = list(_scene(talk, examiner, patient, clips, chance))
        scenes.append(Scene(number, placed, (examiner, patient)))
    return scenes


def _of(voices: Sequence[Voice], half: str) -> list[Voice]:
    return [voice for voice in voices if voice.split == half]


def _people(voices: Sequence[Voice]) -> set[str]:
    return {voice.speaker for voice in voices}


def _scene(
    talk: Iterator[Turn], examiner: Voice, patient: Voice, clips: Path, chance: random.Random
) -> Iterator[Placed]:
    elapsed_s = 0.0
    while elapsed_s < FILE_S:
        turn = next(talk)
        pause_s = chance.uniform(*(LONG_PAUSE_S if chance.random() < 0.08 else PAUSE_S))
        elapsed_s += pause_s + SECONDS_A_WORD * len(turn.text.split())
        yield Placed(pause_s, Task(turn.text, examiner if turn.role == "E" else patient, clips))


def mixed(scene: Scene, shelf: NoiseShelf, seed: int) -> tuple[Samples, list[str]]:
    """The scene in its room, and its time line (start_s, end_s, speaker, text; tab-separated).

    The examiner, who wears the microphone, is near it; the patient sits further away.
    """
    pieces: list[Samples] = []
    lines = ["start_s\tend_s\tspeaker\ttext"]
    at = 0
    for placed in scene.placed:
        near = placed.task.voice == scene.pair[0]
        room = CONSULTING_ROOM if near else CONSULTING_ROOM.further()
        clip = reverberated(read_flac(placed.task.path), room)
        pause = round(placed.pause_s * RATE_HZ)
        start, at = at + pause, at + pause + len(clip)
        pieces += [np.zeros(pause, np.float32), clip]
        who, text = placed.task.voice.name, placed.task.text
        lines.append(f"{start / RATE_HZ:.2f}\t{at / RATE_HZ:.2f}\t{who}\t{text}")
    noise = shelf.pick(f"scene {seed} {scene.number}")
    return add_noise(np.concatenate(pieces), noise, DIALOGUE_SNR_DB), lines


def make_dialogue(out: Path, scenes: Sequence[Scene], noise: Sequence[Path], seed: int, jobs: int) -> None:
    """Render the scenes into `out`: dialogue_01.flac ..., their time lines, and manifest.tsv.

    Raises SpeechError when clips could not be made, ValueError when there is no noise.
    """
    shelves: dict[str, NoiseShelf] = {half: NoiseShelf.of(noise, half) for half in ("tuning", "test")}
    render(list(dict.fromkeys(placed.task for scene in scenes for placed in scene.placed)), jobs)
    rows = []
    for scene in scenes:
        samples, lines = mixed(scene, shelves[scene.pair[0].split], seed)
        name = f"dialogue_{scene.number:02}"
        write_flac(out / f"{name}.flac", samples)
        (out / f"{name}.tsv").write_text("\n".join(lines) + "\n", "utf-8")
        examiner, patient = scene.pair
        speakers = f"{examiner.name}+{patient.name}"
        snr = f"{DIALOGUE_SNR_DB:g}"
        rows.append(Row(f"{name}.flac", "", speakers, "dialogue", "room", snr, examiner.split))
    write_manifest(out / "manifest.tsv", rows)


def make_sentences(out: Path, voices: Sequence[Voice], takes: int, jobs: int) -> None:
    """Say every sentence with `takes` of the voices, going round them; writes manifest.tsv."""
    texts = [turn.text for turn in sentences()]
    tasks = [
        Task(text, voices[(number * takes + take) % len(voices)], out)
        for number, text in enumerate(texts)
        for take in range(min(takes, len(voices)))
    ]
    render(tasks, jobs)
    write_manifest(out / "manifest.tsv", [dry_row(task, out, "talk") for task in tasks])


def main(arguments: Sequence[str] | None = None) -> int:
    """Make sentences or dialogue."""
    parser = argparse.ArgumentParser(description="Make consulting-room talk that must not be logged.")
    parser.add_argument("what", choices=["sentences", "dialogue"])
    parser.add_argument("out", type=Path)
    parser.add_argument("--takes", type=int, default=3, help="voices for each sentence (default 3)")
    parser.add_argument("--minutes", type=float, default=120.0, help="length of the dialogue (default 120)")
    parser.add_argument("--noise", type=Path, nargs="+", default=[], help="folders of noise recordings")
    parser.add_argument("--seed", type=int, default=1)
    add_voice_options(parser)
    given = parser.parse_args(arguments)
    voices = select(given.voices, given.split, given.natural)
    try:
        if given.what == "sentences":
            make_sentences(given.out, voices, given.takes, given.jobs)
        else:
            scenes = plan(given.minutes, voices, given.out / "clips", given.seed)
            make_dialogue(given.out, scenes, given.noise, given.seed, given.jobs)
    except (SpeechError, ValueError) as error:
        print(error, file=sys.stderr)
        return 3
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
