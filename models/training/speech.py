"""Speech of the texts, on a GPU: Kokoro's graph in torch, many processes at once, voices mixed to many more.

    python -m models.training.speech INPUTS OUT --graph KOKORO.onnx [--seconds 300] [--jobs 14] [--device cuda]

INPUTS is what phonemes.py made. OUT gets, for every process, trainN.npz (samples of all clips, 16 kHz, 16 bit, and
their lengths) and trainN.json (kind, text, voice of each), and evaluationN of the same form: the texts kept back,
by test voices. Only the styles of voices that are not for testing (tests/corpora/voices.py) are mixed.

Several texts are said in one go, which a GPU does nearly as fast as one, and cut apart in the pauses by the
durations that the network gives; some neighbours stay together, as a person says one phrase after another.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.signal import resample_poly

from tests.corpora.voices import select

Samples = npt.NDArray[np.int16]

DURATIONS = "/encoder/Clip_output_0"
"""The graph's value that holds how many 25 ms steps each token lasts."""
STEP = 600
"""Samples of 24 kHz in such a step."""

STEPS_TOGETHER = 20
"""Training speech lasts so many steps or a multiple: for each new length a GPU's library of convolutions plans anew."""
LAST_SPACE = -3
"""Place of the space before the full stop that ends a bundle; behind it come that and the end."""

MOST_TOKENS, MOST_TOGETHER = 170, 6
RATES = (0.8, 0.9, 1.0, 1.05, 1.1, 1.15, 1.2, 1.25, 1.3, 1.4, 1.5)
LOUDEST = 20_000
MARGIN = 800
"""Samples of 16 kHz left before and behind the speech."""
JOINED = 0.15
LONGEST_S = 9.0
ENGLISH = "ab"
"""First letters of the styles whose language is English."""


def test_styles() -> set[str]:
    """Styles that no training clip may hold."""
    return {voice.engine_voice for voice in select(split="test") if voice.engine == "kokoro"}


@dataclass
class Bundle:
    """Texts that are said in one go."""

    texts: list[str] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    tokens: list[int] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    """For each text the number of tokens up to its end."""

    def add(self, item: dict[str, Any], pause: list[int]) -> None:
        """Put a text, and the pause behind it, at the end."""
        self.texts.append(item["text"])
        self.kinds.append(item["kind"])
        self.tokens += [*item["tokens"], *pause]
        self.ends.append(len(self.tokens))


def bundles(items: Sequence[dict[str, Any]], chance: Random, pause: list[int]) -> Iterator[Bundle]:
    """Every item once, one to MOST_TOGETHER in a bundle."""
    bundle, wanted = Bundle(), chance.randint(1, MOST_TOGETHER)
    for item in items:
        full = len(bundle.tokens) + len(item["tokens"]) + len(pause) > MOST_TOKENS
        if bundle.texts and (full or len(bundle.texts) == wanted):
            yield bundle
            bundle, wanted = Bundle(), chance.randint(1, MOST_TOGETHER)
        bundle.add(item, pause)
    if bundle.texts:
        yield bundle


class Voices:
    """Style vectors: alone, or mixed; sound and manner of speaking may come from different people."""

    def __init__(self, path: Path, beyond: float = 0.0) -> None:
        """`beyond`: so far may a mixed voice lie beyond one of the two it is mixed of, in parts of their distance."""
        self._beyond = beyond
        with np.load(path) as file:
            self.styles = {name: file[name].astype(np.float32) for name in file.files}
        barred = test_styles()
        self._english = [name for name in self.styles if name[0] in ENGLISH and name not in barred]
        self._other = [name for name in self.styles if name[0] not in ENGLISH and name not in barred]

    def draw(self, length: int, chance: Random) -> tuple[str, npt.NDArray[np.float32]]:
        """A training voice for a string of `length` tokens: its name and its vector, shape (1, 256)."""
        name, sound = self._mixed(length, chance)
        if chance.random() < 0.4:
            other, manner = self._mixed(length, chance)
            return f"{name}/{other}", np.concatenate([sound[:128], manner[128:]])[None]
        return name, sound[None]

    def _mixed(self, length: int, chance: Random) -> tuple[str, npt.NDArray[np.float32]]:
        first = chance.choice(self._english)
        lot = chance.random()
        if lot < 0.35:
            return first, self.styles[first][length - 1]
        if lot < 0.42:
            first = chance.choice(self._other)
            return first, self.styles[first][length - 1]
        second = chance.choice(self._english if lot < 0.7 else self._other)
        share = chance.uniform(0.2, 0.8)
        if self._beyond and chance.random() < 0.4:
            share = chance.uniform(-self._beyond, 1 + self._beyond)
        mixed = share * self.styles[first][length - 1] + (1 - share) * self.styles[second][length - 1]
        return f"{first}+{second}", mixed


def of_few_lengths(durations: Any) -> Any:
    """The durations of a bundle's tokens in steps; the space at its end is drawn out to make a round number."""
    longer = durations.clone()
    longer[..., LAST_SPACE] += -durations.sum() % STEPS_TOGETHER
    return longer


class Speaker:
    """The synthesiser of one process."""

    def __init__(self, graph: Path, device: str, few_lengths: bool = False) -> None:
        import torch

        from .graph_in_torch import Graph

        torch.set_num_threads(1)
        torch.manual_seed(0)
        changes = {DURATIONS: of_few_lengths} if few_lengths else {}
        self._graph = Graph(graph, device, keep=(DURATIONS,), changes=changes)

    def say(
        self, bundle: Bundle, style: npt.NDArray[np.float32], rate: float
    ) -> list[npt.NDArray[np.float32]]:
        """One sound a text, 16 kHz, the silences between them shared out."""
        tokens = np.array([[0, *bundle.tokens, 0]], np.int64)
        sound, steps = self._graph.run(tokens=tokens, style=style, speed=np.array([rate], np.float32))
        spoken = np.nan_to_num(sound.float().cpu().numpy().ravel())
        until = np.cumsum(steps.float().cpu().numpy().ravel()).astype(int) * STEP
        # The token at place e of the feed is the last of the text whose tokens end at e.
        cuts = [0, *(int(until[end]) for end in bundle.ends[:-1]), len(spoken)]
        pieces = [spoken[start:stop] for start, stop in pairwise(cuts)]
        return [resample_poly(piece, 2, 3).astype(np.float32) for piece in pieces if len(piece)]


def trimmed(sound: npt.NDArray[np.float32]) -> Samples | None:
    """The speech with a short margin, at one level, 16 bit; None where there is none or too much."""
    loud = np.abs(sound)
    highest = float(loud.max(initial=0.0))
    if highest < 1e-3:
        return None
    places = np.flatnonzero(loud > 0.01 * highest)
    cut = sound[max(0, places[0] - MARGIN) : places[-1] + 2 * MARGIN]
    if len(cut) > LONGEST_S * 16_000:
        return None
    return np.asarray(cut / highest * LOUDEST, dtype=np.int16)


@dataclass
class Clips:
    """Clips of one process, until they are written."""

    sounds: list[Samples] = field(default_factory=list)
    about: list[tuple[str, str, str]] = field(default_factory=list)

    def add(self, sound: npt.NDArray[np.float32], kind: str, text: str, voice: str) -> None:
        """Keep a clip, unless it is empty or too long."""
        cut = trimmed(sound)
        if cut is not None:
            self.sounds.append(cut)
            self.about.append((kind, text, voice))

    def write(self, path: Path) -> float:
        """Write both files; returns the seconds of sound."""
        lengths = np.array([len(sound) for sound in self.sounds], np.int64)
        joined = np.concatenate(self.sounds) if self.sounds else np.zeros(0, np.int16)
        np.savez(path.with_suffix(".npz"), samples=joined, lengths=lengths)
        path.with_suffix(".json").write_text(json.dumps(self.about), "utf-8")
        return len(joined) / 16_000


@dataclass(frozen=True, slots=True)
class Work:
    """What a process is to do: its number among `jobs`, and until when."""

    number: int
    jobs: int
    inputs: Path
    out: Path
    graph: Path
    device: str
    until: float
    most: int
    beyond: float


def evaluation(work: Work, speaker: Speaker, voices: Voices, pause: list[int]) -> float:
    """The texts kept back, each by its test voice."""
    clips = Clips()
    items = json.loads((work.inputs / "evaluation.json").read_text("utf-8"))
    for item in items[work.number : work.most or None : work.jobs]:
        bundle = Bundle()
        bundle.add(item, pause)
        style = voices.styles[item["voice"]][len(bundle.tokens) - 1][None]
        clips.add(speaker.say(bundle, style, item["rate"])[0], item["kind"], item["text"], item["voice"])
    return clips.write(work.out / f"evaluation{work.number}")


def training(work: Work, speaker: Speaker, voices: Voices, pause: list[int]) -> float:
    """The training texts by mixed voices, again and again until the time is up (or, with `most`, once)."""
    chance = Random(work.number)
    clips = Clips()
    items = json.loads((work.inputs / "phonemes.json").read_text("utf-8"))
    own = items[work.number : work.most or None : work.jobs]
    while time.time() < work.until:
        for bundle in bundles(own, chance, pause):
            voice, style = voices.draw(len(bundle.tokens), chance)
            _keep(clips, speaker.say(bundle, style, chance.choice(RATES)), bundle, voice, chance)
            if time.time() > work.until:
                break
        chance.shuffle(own)
        if work.most:
            break
    return clips.write(work.out / f"train{work.number}")


def _keep(
    clips: Clips, sounds: list[npt.NDArray[np.float32]], bundle: Bundle, voice: str, chance: Random
) -> None:
    place = 0
    while place < len(sounds):
        count = 2 if place + 1 < len(sounds) and chance.random() < JOINED else 1
        part = slice(place, place + count)
        clips.add(np.concatenate(sounds[part]), bundle.kinds[place], " ".join(bundle.texts[part]), voice)
        place += count


def run(work: Work) -> tuple[float, float]:
    """Seconds of training and of evaluation speech that one process made."""
    pause = json.loads((work.inputs / "pause.json").read_text("utf-8"))
    speaker, voices = (
        Speaker(work.graph, work.device, few_lengths=True),
        Voices(work.inputs / "styles.npz", work.beyond),
    )
    tested = evaluation(work, speaker, voices, pause)
    return training(work, speaker, voices, pause), tested


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the speech."""
    parser = argparse.ArgumentParser(description="Say the texts with many voices.")
    parser.add_argument("inputs", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--graph", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=300.0)
    parser.add_argument("--jobs", type=int, default=14)
    parser.add_argument("--device", default="cuda", help="cuda, or cpu for a trial; processes share all GPUs")
    parser.add_argument(
        "--beyond", type=float, default=0.0, help="how far mixed voices go beyond their parts"
    )
    parser.add_argument("--most", type=int, default=0, help="no more than so many texts, each once")
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    started = time.time()
    works = [
        Work(
            number, given.jobs, given.inputs, given.out, given.graph,
            device_of(given.device, number), started + given.seconds, given.most,
            given.beyond,
        )
        for number in range(given.jobs)
    ]  # fmt: skip
    with multiprocessing.get_context("spawn").Pool(given.jobs) as pool:
        made = pool.map(run, works, chunksize=1)
    hours = sum(seconds for seconds, _ in made) / 3600
    print(f"{hours:.2f} h for training, {sum(each for _, each in made) / 60:.1f} min for evaluation")
    print(f"in {time.time() - started:.0f} s by {given.jobs} processes")
    return 0


def device_of(kind: str, number: int) -> str:
    """Which of the GPUs a process uses, in turn."""
    if kind != "cuda":
        return kind
    import torch

    return f"cuda:{number % max(1, torch.cuda.device_count())}"


if __name__ == "__main__":
    raise SystemExit(main())
