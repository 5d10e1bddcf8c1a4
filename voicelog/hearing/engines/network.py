"""The network of the default recogniser: sound in, log probabilities of the next piece of text out.

The weights come inside the package `moonshine-voice` (`tiny-en`, MIT licence; encoder and decoder in ONNX Runtime
format). The package is only looked up, never imported: its import loads a shared library that is not needed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from voicelog.errors import MissingPartError
from voicelog.hearing.engines.memory import give_back, let_go_of
from voicelog.hearing.engines.protocol import Samples
from voicelog.hearing.engines.tokens import BEGIN, Tokeniser

States = npt.NDArray[np.float32]
"""What the encoder makes of sound, shape (1, frames, 288)."""

_PACKAGE = "moonshine_voice"
_MODEL = Path("assets") / "tiny-en"
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
_HEADS, _HEAD_WIDTH, _LAYERS = 8, 36, 6
_SAMPLES_A_FRAME = 384
FRAME_S = _SAMPLES_A_FRAME / 16_000
_LINES_AT_ONCE = 4


def model_folder() -> Path:
    """The folder of the packaged model. Raises MissingPartError saying what to install."""
    spec = find_spec(_PACKAGE)
    folder = Path(spec.origin).parent / _MODEL if spec and spec.origin else None
    if folder is None or not all((folder / name).is_file() for name in _FILES):
        raise MissingPartError(
            "the speech model is missing; install it with: pip install moonshine-voice==0.0.73"
        )
    return folder


class Exchange(NamedTuple):
    """A word of a line and another in its place: where they begin to differ, where the word ends, the other's piece."""

    first: int
    end: int
    piece: int


class Line(NamedTuple):
    """A line of pieces, with its end, and the exchanges that would make other lines of it."""

    pieces: tuple[int, ...]
    exchanges: tuple[Exchange, ...] = ()


class Likelihood(NamedTuple):
    """Log probability (base e) of a line, and how far at least its words are before those of its exchanges there.

    That is told by the pieces up to where the words differ: what follows is not looked at. Infinite without exchanges.
    """

    log_probability: float
    apart: float


class MoonshineModel:
    """The loaded network."""

    def __init__(self, folder: Path | None = None, threads: int = 1) -> None:
        import onnxruntime

        folder = folder or model_folder()
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        options.enable_cpu_mem_arena = False  # 20 MB less, and no slower
        # Weights that need no packing are read where the file lies in memory: no copy, and most are never touched.
        options.add_session_config_entry("session.use_memory_mapped_ort_model", "1")
        options.add_session_config_entry("session.use_ort_model_bytes_for_initializers", "1")
        # Loading the decoder takes 35 MB more for a while: it comes first, when the least is held.
        give_back()
        self._decoder, self._encoder = (_loaded(folder / name, options) for name in (_FILES[1], _FILES[0]))
        self.tokeniser = Tokeniser.read(folder / _FILES[2])
        self._first_outputs = [output.name for output in self._decoder.get_outputs()]
        self._later_outputs = [name for name in self._first_outputs if ".encoder." not in name]

    def encode(self, samples: Samples) -> States:
        """Sound (n,) to states of the encoder."""
        batch = samples[None].astype(np.float32)
        feed = {"input_values": batch, "attention_mask": np.ones(batch.shape, np.int64)}
        states: States = self._encoder.run(None, feed)[0]
        return states

    def likelihoods(self, states: States, lines: Sequence[Line]) -> list[Likelihood]:
        """How likely each line is.

        A few lines at a time: each takes 2 MB for the probabilities of all pieces.
        """
        parts = [lines[at : at + _LINES_AT_ONCE] for at in range(0, len(lines), _LINES_AT_ONCE)]
        return [each for part in parts for each in self._likelihoods(states, part)]

    def _likelihoods(self, states: States, lines: Sequence[Line]) -> list[Likelihood]:
        longest = max(len(line.pieces) for line in lines)
        given = np.full((len(lines), longest), BEGIN, np.int64)
        for row, (pieces, _) in enumerate(lines):
            given[row, 1 : len(pieces)] = pieces[:-1]
        feed = {
            "encoder_attention_mask": np.ones((len(lines), states.shape[1] * _SAMPLES_A_FRAME), np.int64),
            "encoder_hidden_states": np.repeat(states, len(lines), 0),
            "input_ids": given,
            "use_cache_branch": np.array([False]),
            **_nothing_before(len(lines)),
        }
        logits = self._decoder.run(self._first_outputs[:1], feed)[0]
        return [_likelihood(logits[row], line) for row, line in enumerate(lines)]

    def begin(self, states: States) -> tuple[npt.NDArray[np.float32], "Memory"]:
        """The first step: log probabilities (1, vocabulary) and the memory of one hypothesis."""
        # The decoder wants the mask a sample, and thins it itself to one value a frame.
        mask = np.ones((1, states.shape[1] * _SAMPLES_A_FRAME), np.int64)
        memory = Memory(states, mask, _nothing_before(1), first=True)
        return self.step(memory, np.array([BEGIN]))

    def step(
        self, memory: "Memory", pieces: npt.NDArray[np.int64]
    ) -> tuple[npt.NDArray[np.float32], "Memory"]:
        """Append one piece to each of k hypotheses: log probabilities (k, vocabulary) and their memory."""
        outputs = self._first_outputs if memory.first else self._later_outputs
        feed = {
            "encoder_attention_mask": memory.mask,
            "encoder_hidden_states": memory.states,
            "input_ids": pieces[:, None],
            "use_cache_branch": np.array([not memory.first]),
            **memory.past,
        }
        found = self._decoder.run(outputs, feed)
        past = dict(memory.past)
        past.update(
            (name.replace("present", "past_key_values"), value)
            for name, value in zip(outputs[1:], found[1:], strict=True)
        )
        return _log_softmax(found[0][:, -1]), Memory(memory.states, memory.mask, past, first=False)


def _loaded(file: Path, options: Any) -> Any:
    """A network of a file."""
    import onnxruntime

    session = onnxruntime.InferenceSession(str(file), options)
    give_back()
    let_go_of(file.resolve())
    return session


@dataclass(frozen=True, slots=True)
class Memory:
    """What the decoder remembers of k hypotheses: arrays with k rows; the encoder's rows are all alike."""

    states: npt.NDArray[np.float32]
    mask: npt.NDArray[np.int64]
    past: dict[str, npt.NDArray[np.float32]]
    first: bool

    def rows(self, rows: npt.NDArray[np.int64]) -> "Memory":
        """The memory of the hypotheses that go on; a row may be taken more than once."""
        alike = np.zeros(len(rows), np.int64)
        past = {
            name: self._alike(value, alike) if ".encoder." in name else value[rows]
            for name, value in self.past.items()
        }
        return Memory(self._alike(self.states, alike), self._alike(self.mask, alike), past, self.first)

    @staticmethod
    def _alike(value: npt.NDArray[Any], alike: npt.NDArray[np.int64]) -> npt.NDArray[Any]:
        return value if len(value) == len(alike) else value[alike]


def _nothing_before(rows: int) -> dict[str, npt.NDArray[np.float32]]:
    """What the decoder remembers before its first step."""
    empty = np.zeros((rows, _HEADS, 0, _HEAD_WIDTH), np.float32)
    return {
        f"past_key_values.{layer}.{side}.{part}": empty
        for layer in range(_LAYERS)
        for side in ("decoder", "encoder")
        for part in ("key", "value")
    }


def _likelihood(logits: npt.NDArray[np.float32], line: Line) -> Likelihood:
    """How likely a line is, from logits (positions, vocabulary) of at least as many positions as it has pieces."""
    own = logits[: len(line.pieces)]
    highest = own.max(axis=1)
    all_logs = highest + np.log([np.exp(row - high).sum() for row, high in zip(own, highest, strict=True)])
    logs = own[np.arange(len(line.pieces)), line.pieces] - all_logs
    apart = (
        logs[first:end].sum() - (own[first, piece] - all_logs[first]) for first, end, piece in line.exchanges
    )
    return Likelihood(float(logs.sum()), float(min(apart, default=np.inf)))


def _log_softmax(logits: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    shifted = logits - logits.max(axis=1, keepdims=True)
    result: npt.NDArray[np.float32] = shifted - np.log(np.exp(shifted).sum(axis=1, keepdims=True))
    return result
