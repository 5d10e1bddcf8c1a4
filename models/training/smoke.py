"""The whole recipe on a CPU in about a minute, with next to no data: does every step still fit the next?

    python -m models.training.smoke OUT

What comes out is no model. Texts are made; synthesis is left out (it needs Kokoro's weights), and the recordings of
tests/hearing/audio/letters stand in for its clips. Ends with status 1 where the exported graph and the network in
torch differ.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
import soundfile
import torch

from voicelog.hearing.engines.letters import PIECE, LetterModel

from . import export, mean, texts, train, weights
from .averages import EVERY, Average
from .losses import ctc, nearest_rivals
from .network import BLANK, LETTERS, Ear
from .speech import Clips

RECORDINGS = Path(__file__).parents[2] / "tests" / "hearing" / "audio" / "letters"
STEPS = 3
LARGEST_DIFFERENCE = 1e-3
"""Of a probability, between torch and the graph with unrounded weights."""


def make_speech(folder: Path) -> None:
    """Files as speech.py makes them, of the recordings."""
    clips = Clips()
    for line in (RECORDINGS / "manifest.tsv").read_text("utf-8").splitlines()[1:]:
        name, text, voice = line.split("\t")
        clips.add(soundfile.read(RECORDINGS / name, dtype="float32")[0], "trade", text, voice)
    folder.mkdir(parents=True, exist_ok=True)
    clips.write(folder / "train0")


def make_noise(folder: Path) -> None:
    """Two short recordings of noise, one for each half."""
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(2):
        noise = np.random.default_rng(number).normal(0, 0.05, 48_000)
        soundfile.write(folder / f"{number}.flac", noise, 16_000)


def difference(trained: Path, exported: Path) -> float:
    """The largest difference of a probability between torch and the graph, whole and in pieces."""
    ear = Ear().eval()
    ear.load_state_dict(
        {name: torch.from_numpy(value) for name, value in export.read_weights(trained).items()}
    )
    sound = np.random.default_rng(5).normal(0, 0.1, 20_000).astype(np.float32)
    model = LetterModel(exported)
    stream = model.stream()
    pieces = np.concatenate([stream.feed(sound), stream.finish()])
    with torch.no_grad():
        whole = ear(torch.from_numpy(sound)[None])[1][0].numpy()
        in_pieces = ear(torch.from_numpy(sound)[None], PIECE)[1][0].numpy()
    pairs = ((model.posteriors(sound), whole), (pieces, in_pieces))
    return max(float(np.abs(np.exp(first) - np.exp(second)).max()) for first, second in pairs)


def mean_difference(model: Path, folder: Path) -> float:
    """The largest difference of a weight between a model and the mean of it and itself."""
    mean.main([str(folder / "mean.pt"), f"{model}=1", f"{model}=3"])
    before, after = export.read_model(model), export.read_weights(folder / "mean.pt")
    return max(float(np.abs(before[name] - after[name]).max()) for name in before)


def averaged() -> list[float]:
    """A weight that is 0, then 1 for good: the mean right after, and after ten times as many steps as it looks back."""
    network = torch.nn.Linear(1, 1, bias=False)
    network.weight.data.zero_()
    average, kept = Average(network, decay=0.99), []
    network.weight.data.fill_(1)
    for step in range(1, 1001):
        average.look(network, step)
        if step in (EVERY, 1000):
            kept.append(float(average.network.state_dict()["weight"]))
    return kept


def leads() -> list[float]:
    """How much of the lead is lacking where the sound is clearly "on": before "in", before "in" and "on", before "on",
    and where there is no rival.
    """
    logs = torch.full((6, 1, BLANK + 1), -8.0)
    for frame, letter in enumerate(("o", None, "n", None, None, None)):
        logs[frame, 0, BLANK if letter is None else LETTERS.index(letter)] = 6.0
    logs = logs.log_softmax(-1)
    said = ctc(logs, ["on"])
    return [float(nearest_rivals(logs, said, [near]).lacking) for near in (["in"], ["in", "on"], ["on"], [])]


def main() -> int:
    """Run every step."""
    parser = argparse.ArgumentParser(description="The recipe with next to no data.")
    parser.add_argument("out", type=Path)
    out: Path = parser.parse_args().out
    encoder = out / "encoder.npz"
    texts.make(out / "texts", None, texts.Counts(phrases=60, sentences=20, near_talk=20), seed=1)
    make_speech(out / "speech")
    make_noise(out / "noise")
    weights.write(encoder)
    weights.write_decoder(out / "decoder.npz")
    alike = out / "alike.json"
    alike.write_text(json.dumps({"plus": ["plots"], "ninety": ["nineteen"]}), "utf-8")
    places = [out / "trained", "--encoder", encoder, "--speech", out / "speech", "--noise", out / "noise"]
    sizes = ["--steps", STEPS, "--batch", 2, "--talkers", 4, "--device", "cpu", "--apart", 0.5, "--rivals", 3]
    sizes += ["--decoder", out / "decoder.npz", "--preferred", 0.5, "--limited", 0.2, "--alike", alike]
    train.main([str(each) for each in (*places, *sizes)])
    trained, exported = out / "trained" / "ear.pt", out / "letters.onnx"
    export.main([str(trained), str(exported), "--float"])
    found = difference(trained, exported)
    export.main([str(trained), str(exported)])
    about = {"difference": found, "bytes": exported.stat().st_size, "average": averaged(), "leads": leads()}
    about["mean"] = mean_difference(exported, out)
    print(json.dumps(about))
    return int(not found < LARGEST_DIFFERENCE)


if __name__ == "__main__":
    raise SystemExit(main())
