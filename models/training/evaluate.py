"""How often the network alone finds the right words: closed-set trials on voices, people and noise it never heard.

    python -m models.training.evaluate MODEL.onnx --speech FOLDER --shared FOLDER [--most N] [--out FILE.json]

FOLDER of speech holds evaluationN.npz and .json of speech.py: phrases kept back, said by test voices. The shared
folder has real people and noise; of both only the test half is used, and the folder digits whole.

A trial is right where the phrase that was said scores above all of: the texts kept back and 7,000 of the sampler's
that are nearest to the letters heard, and every phrase that differs from the said one, or from one of the three
best, by one exchanged or dropped word of its class (digits, -teens and -ties, plus and minus, ...). So it asks for
more than a grammar would in the neighbourhood, and less elsewhere. Real words are chosen among all words of their set.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
import torch
import torch.nn.functional as F
from rapidfuzz import fuzz, process

from tests.corpora.levels import active_level_dbfs, gained, rms_dbfs
from tests.corpora.rooms import CONSULTING_ROOM, FAR_ROOM, NoiseShelf, add_noise, reverberated
from voicelog.hearing.engines.letters import BLANK, LetterModel, Scores, greedy_text
from voicelog.measuring.intervals import wilson

from .clips import people, recording, tight
from .neighbours import neighbours
from .network import encode_text
from .texts import distinct, trade_phrases

Samples = npt.NDArray[np.float32]

NEAREST, TOP = 60, 3
OTHER_TEXTS = 7_000
EDGE = np.zeros(4000, np.float32)


@dataclass(frozen=True, slots=True)
class Trial:
    """One clip in one condition; `choices` empty: the phrases and their neighbours."""

    group: str
    text: str
    samples: Samples
    choices: tuple[str, ...] = ()


def scored(scores: Scores, texts: Sequence[str]) -> npt.NDArray[np.float32]:
    """Log probability of each text."""
    spelled = [encode_text(text) for text in texts]
    lengths = torch.tensor([len(each) for each in spelled])
    letters = torch.tensor([letter for each in spelled for letter in each])
    frames = torch.full((len(texts),), len(scores), dtype=torch.long)
    logs = torch.from_numpy(scores)[:, None].expand(-1, len(texts), -1)
    losses = F.ctc_loss(logs, letters, frames, lengths, blank=BLANK, reduction="none")
    return np.asarray(-losses.numpy(), dtype=np.float32)


def best_phrase(scores: Scores, said: str, phrases: Sequence[str]) -> str:
    """The likeliest of the phrases near what was heard, and of the neighbours."""
    near = process.extract(greedy_text(scores), phrases, scorer=fuzz.ratio, limit=NEAREST)
    candidates: list[str] = list(dict.fromkeys([said, *(each[0] for each in near)]))
    points = scored(scores, candidates)
    tops = [candidates[place] for place in np.argsort(-points)[:TOP]]
    wider = {each for text in (said, *tops) for each in neighbours(text)}
    candidates = list(dict.fromkeys([said, *tops, *sorted(wider)]))
    return candidates[int(np.argmax(scored(scores, candidates)))]


def kept_back(folder: Path) -> Iterator[tuple[str, Samples]]:
    """The phrases by test voices: text and sound."""
    for path in sorted(folder.glob("evaluation*.npz")):
        about = json.loads(path.with_suffix(".json").read_text("utf-8"))
        with np.load(path) as file:
            sounds = np.split(file["samples"], np.cumsum(file["lengths"])[:-1])
        for (_, text, _), sound in zip(about, sounds, strict=True):
            yield text, np.concatenate([EDGE, sound.astype(np.float32) / 32_768, EDGE])


def babble(shared: Path) -> Samples:
    """Three people of the test half reading at once."""
    voices: list[list[Samples]] = [[], [], []]
    for number, (path, _, _) in enumerate(people(shared / "read_speech", tuning=False)):
        voice = recording(path)
        voices[number % 3].append(gained(voice, -26.0 - active_level_dbfs(voice)))
    tracks = [np.concatenate(each) for each in voices]
    length = min(map(len, tracks))
    return np.asarray(np.sum([track[:length] for track in tracks], axis=0), dtype=np.float32)


def with_babble(samples: Samples, talk: Samples, snr_db: float, key: str) -> Samples:
    """`samples` with a stretch of the talk behind them."""
    start = random.Random(key).randrange(len(talk) - len(samples))
    stretch = talk[start : start + len(samples)]
    gain_db = active_level_dbfs(samples) - snr_db - rms_dbfs(stretch)
    return gained(samples + stretch * np.float32(10 ** (gain_db / 20)), 0.0)


def conditions(
    group: str, text: str, samples: Samples, shelf: NoiseShelf, talk: Samples, choices: tuple[str, ...] = ()
) -> Iterator[Trial]:
    """One clip in quiet, noise at 10, 5 and 0 dB, chatter at 10 and 5 dB, and far away."""
    samples = gained(samples, -26.0 - active_level_dbfs(samples))
    yield Trial(f"{group}, quiet", text, samples, choices)
    near = reverberated(samples, CONSULTING_ROOM)
    for snr_db in (10, 5, 0):
        key = f"{group} {text} {snr_db}"
        yield Trial(
            f"{group}, noise {snr_db} dB", text, add_noise(near, shelf.pick(key), snr_db, key), choices
        )
    for snr_db in (10, 5):
        key = f"chatter {group} {text} {snr_db}"
        yield Trial(f"{group}, chatter {snr_db} dB", text, with_babble(near, talk, snr_db, key), choices)
    yield Trial(f"{group}, far", text, reverberated(samples, FAR_ROOM), choices)


def real_people(shared: Path, shelf: NoiseShelf, talk: Samples) -> Iterator[Trial]:
    """Single words, digits by telephone, and both joined to phrases of three: people that were not trained on."""
    words = [(who, text, recording(path)) for path, text, who in people(shared / "words", tuning=False)]
    calls = [
        (who, text, recording(path))
        for half in (True, False)
        for path, text, who in people(shared / "digits", tuning=half)
    ]
    for group, spoken in (("words", words), ("telephone digits", calls)):
        choices = tuple(sorted({text for _, text, _ in spoken}))
        for _, text, samples in spoken:
            yield Trial(f"{group}, one", text, np.concatenate([EDGE, samples * 0.5, EDGE]), choices)
        for text, samples in joined(spoken, 150):
            yield from conditions(f"{group}, three joined", text, samples, shelf, talk)


def joined(spoken: Sequence[tuple[str, str, Samples]], count: int) -> Iterator[tuple[str, Samples]]:
    """Three words of one person, or of people one after another where nobody said three."""
    chance = random.Random(11)
    by_person = defaultdict(list)
    for each in spoken:
        by_person[each[0]].append(each)
    rich = [each for each in by_person.values() if len(each) > 2]
    for number in range(count):
        chosen = chance.sample(rich[number % len(rich)], 3)
        parts = [EDGE]
        for _, _, samples in chosen:
            parts += [tight(samples) * 0.5, np.zeros(chance.randint(800, 4000), np.float32)]
        yield " ".join(text for _, text, _ in chosen), np.concatenate([*parts, EDGE])


@cache
def _model(path: Path) -> LetterModel:
    torch.set_num_threads(1)
    return LetterModel(path)


@dataclass(frozen=True, slots=True)
class Judge:
    """What each process needs."""

    model: Path
    phrases: tuple[str, ...]
    streamed: bool

    def __call__(self, trial: Trial) -> tuple[str, str, str]:
        """Group, what was said, what was taken for it."""
        model = _model(self.model)
        if self.streamed:
            stream = model.stream()
            scores = np.concatenate([stream.feed(trial.samples), stream.finish()])
        else:
            scores = model.posteriors(trial.samples)
        if trial.choices:
            points = scored(scores, trial.choices)
            return trial.group, trial.text, trial.choices[int(np.argmax(points))]
        return trial.group, trial.text, best_phrase(scores, trial.text, self.phrases)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the trials and print a table."""
    parser = argparse.ArgumentParser(description="Closed-set trials of the network alone.")
    parser.add_argument("model", type=Path)
    parser.add_argument("--speech", type=Path, required=True)
    parser.add_argument("--shared", type=Path, required=True)
    parser.add_argument("--most", type=int, default=0, help="no more than so many phrases")
    parser.add_argument("--streamed", action="store_true", help="in pieces, as while somebody speaks")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args(arguments)
    shelf = NoiseShelf.of([given.shared / "noise_events", given.shared / "noise_background"], "test")
    talk = babble(given.shared)
    clips = list(kept_back(given.speech))
    clips = clips[: given.most or None]
    others = distinct(trade_phrases(random.Random(99)), OTHER_TEXTS, most_of_one=1)
    phrases = tuple(dict.fromkeys([text for text, _ in clips] + others))
    trials = [trial for text, samples in clips for trial in conditions("phrases", text, samples, shelf, talk)]
    trials += list(real_people(given.shared, shelf, talk))
    judge = Judge(given.model, phrases, given.streamed)
    with ProcessPoolExecutor(given.jobs) as pool:
        results = list(pool.map(judge, trials, chunksize=8))
    report(results, given.out)
    return 0


def report(results: Sequence[tuple[str, str, str]], out: Path | None) -> None:
    """A line for each group, right of all with a 95 % interval; the wrong ones go to `out`."""
    groups: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for group, said, taken in results:
        groups[group].append((said, taken))
    for group, pairs in groups.items():
        right = sum(said == taken for said, taken in pairs)
        low, high = wilson(right, len(pairs))
        share = f"{100 * right / len(pairs):.1f} % ({100 * low:.1f} to {100 * high:.1f})"
        print(f"| {group} | {right} of {len(pairs)} | {share} |")
    if out is not None:
        wrong = {name: [pair for pair in pairs if pair[0] != pair[1]] for name, pairs in groups.items()}
        out.write_text(json.dumps(wrong, indent=1), "utf-8")


if __name__ == "__main__":
    raise SystemExit(main())
