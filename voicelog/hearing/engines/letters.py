"""The network made for this work: sound in, letters frame by frame out, for a whole utterance or while it is spoken.

The model is `models/en/letters.onnx`; models/training holds its recipe. A frame stands for 24 ms. Its letters are log
probabilities over LETTERS and, last, the blank of connectionist temporal classification (A. Graves et al., 2006):
a text is spelled by a path of letters and blanks; repeats count once, unless a blank stands between them.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from voicelog.errors import MissingPartError
from voicelog.hearing.engines.memory import give_back, keep_none_back
from voicelog.hearing.engines.protocol import Samples
from voicelog.hearing.models.catalogue import catalogue_path

Scores = npt.NDArray[np.float32]
"""Log probabilities (base e), shape (frames, 29): LETTERS, then the blank."""
States = npt.NDArray[np.float32]
"""What the letters are read off, shape (1, frames, 288): a decoder can read it as well."""

LETTERS = " abcdefghijklmnopqrstuvwxyz'"
BLANK = len(LETTERS)

RATE_HZ = 16_000
SAMPLES_A_FRAME = 384
FRAME_S = SAMPLES_A_FRAME / RATE_HZ
_RECEPTIVE = 895
"""Samples that the first frame needs."""
_STEPS_A_FRAME = 6
"""Levels that the network measures in a frame."""
_LEVELS, _BEFORE, _WIDTH = 758, 8, 288
_HEADS, _HEAD_WIDTH = 8, 36
_MOST_PAST = 420
"""Frames that a stream looks back at, at most: ten seconds."""
PIECE = 16
"""Frames that a stream hears at a time: 0.38 s."""


def model_path() -> Path:
    """Where the model lies. Raises MissingPartError, or CatalogueError where the whole folder is missing."""
    path = catalogue_path().parent / "en" / "letters.onnx"
    if not path.is_file():
        raise MissingPartError(f"the model {path} is missing; reinstall voicelog")
    return path


@dataclass(frozen=True, slots=True)
class Memory:
    """What a stream remembers of the sound so far."""

    levels: Scores
    keys: Scores
    values: Scores
    before: Scores
    frames: int

    @classmethod
    def empty(cls, layers: int) -> Memory:
        """Nothing heard yet, by a network of so many layers."""
        nothing = np.zeros((layers, _HEADS, 0, _HEAD_WIDTH), np.float32)
        return cls(
            np.zeros((1, 1, _LEVELS), np.float32),
            nothing,
            nothing,
            np.zeros((1, _BEFORE, _WIDTH), np.float32),
            0,
        )


class LetterModel:
    """The loaded network. Raises MissingPartError where the model is missing. Safe to share between threads."""

    def __init__(self, path: Path | None = None, threads: int = 1) -> None:
        import onnxruntime

        keep_none_back()
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        options.enable_cpu_mem_arena = False  # 20 MB less, and no slower
        # The 8-bit weights are made floats once, when the model is loaded, and not at every call.
        options.add_session_config_entry("session.disable_quant_qdq", "1")
        self._session: Any = onnxruntime.InferenceSession(
            str(path or model_path()), options, providers=["CPUExecutionProvider"]
        )
        shapes = {each.name: each.shape for each in self._session.get_inputs()}
        self._layers: int = shapes["keys"][0]
        give_back()

    def posteriors(self, samples: Samples) -> Scores:
        """The letters of a whole utterance, shape (n,), 16 kHz: each frame sees all of it.

        Fewer than 895 samples give no frame. One utterance never changes what another gives.
        """
        return self.whole(samples)[0]

    def whole(self, samples: Samples) -> tuple[Scores, States]:
        """The letters of a whole utterance, as `posteriors` gives them, and the states behind them."""
        if len(samples) < _RECEPTIVE:
            return np.zeros((0, BLANK + 1), np.float32), np.zeros((1, 0, _WIDTH), np.float32)
        letters, states = self._session.run(["letters", "states"], _feed(samples, self.nothing_heard()))
        return letters, states

    def nothing_heard(self) -> Memory:
        """The memory at the beginning of a sound."""
        return Memory.empty(self._layers)

    def heard(self, samples: Samples, memory: Memory) -> tuple[Scores, Memory]:
        """The letters of a piece of sound that goes on where `memory` ends, and the memory behind it.

        The next piece begins SAMPLES_A_FRAME samples later for each frame that came out.
        """
        if len(samples) < _RECEPTIVE:
            return np.zeros((0, BLANK + 1), np.float32), memory
        letters, states, levels, keys, values = self._session.run(
            ["letters", "states", "new_levels", "new_keys", "new_values"], _feed(samples, memory)
        )
        own = levels[:, :, : _STEPS_A_FRAME * len(letters)]
        after = Memory(
            np.concatenate([memory.levels, own], 2)[:, :, -_LEVELS:],
            np.concatenate([memory.keys, keys], 2)[:, :, -_MOST_PAST:],
            np.concatenate([memory.values, values], 2)[:, :, -_MOST_PAST:],
            np.concatenate([memory.before, states], 1)[:, -_BEFORE:],
            memory.frames + len(letters),
        )
        return letters, after

    def stream(self) -> LetterStream:
        """Begin an utterance that is heard while it is spoken."""
        return LetterStream(self)


def _feed(samples: Samples, memory: Memory) -> dict[str, npt.NDArray[Any]]:
    """The network's inputs."""
    return {
        "samples": np.ascontiguousarray(samples[None], np.float32),
        "levels": memory.levels,
        "keys": memory.keys,
        "values": memory.values,
        "before": memory.before,
        "position": np.array(memory.frames, np.int64),
    }


class LetterStream:
    """An utterance while it is spoken: sound is fed as it comes, letters come out PIECE frames at a time.

    How the sound is cut up when it is fed makes no difference to the letters. A frame sees to the end of its piece
    only, so the letters differ a little from those of `LetterModel.posteriors`.
    """

    def __init__(self, model: LetterModel) -> None:
        self._model = model
        self._memory = model.nothing_heard()
        self._waiting: Samples = np.zeros(0, np.float32)

    @property
    def frames(self) -> int:
        """Frames given so far."""
        return self._memory.frames

    def feed(self, samples: Samples) -> Scores:
        """Take more sound; returns the letters of all pieces that are now complete, shape (frames, 29)."""
        self._waiting = np.concatenate([self._waiting, samples.astype(np.float32)])
        needed = _RECEPTIVE + (PIECE - 1) * SAMPLES_A_FRAME
        found = [np.zeros((0, BLANK + 1), np.float32)]
        while len(self._waiting) >= needed:
            letters, self._memory = self._model.heard(self._waiting[:needed], self._memory)
            self._waiting = self._waiting[PIECE * SAMPLES_A_FRAME :]
            found.append(letters)
        return np.concatenate(found)

    def finish(self) -> Scores:
        """The letters of what is left: fewer than PIECE frames."""
        letters, self._memory = self._model.heard(self._waiting, self._memory)
        self._waiting = self._waiting[len(letters) * SAMPLES_A_FRAME :]
        return letters


def greedy_text(scores: Scores) -> str:
    """The likeliest letter of each frame, read as a text: what was heard where no grammar helps."""
    best = scores.argmax(1)
    kept = best[np.flatnonzero(np.diff(best, prepend=-1))]
    return "".join(LETTERS[letter] for letter in kept if letter != BLANK).strip()


def text_log_probability(scores: Scores, text: str) -> float:
    """Log probability of a text, all its paths summed (base e); minus infinity where there are too few frames.

    Raises ValueError for a character that is none of LETTERS.
    """
    labels = [BLANK]
    for character in text:
        labels += [LETTERS.index(character), BLANK]
    emitted = scores[:, labels].astype(np.float64)
    # A letter may follow the letter before it without a blank, unless both are the same.
    skips = np.array(
        [place > 1 and label not in (BLANK, labels[place - 2]) for place, label in enumerate(labels)]
    )
    reached = np.full(len(labels), -np.inf)
    reached[:2] = 0.0
    for number, frame in enumerate(emitted):
        if number:
            one = np.concatenate([[-np.inf], reached[:-1]])
            two = np.where(skips, np.concatenate([[-np.inf, -np.inf], reached[:-2]])[: len(labels)], -np.inf)
            reached = np.logaddexp(np.logaddexp(reached, one), two)
        reached = reached + frame
    return float(np.logaddexp.reduce(reached[-2:])) if len(emitted) else -np.inf
