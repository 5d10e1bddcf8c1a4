"""Says the examples on a GPU and packs them; and unpacks them to a corpus.

    python -m models.training.spoken INPUTS OUT --graph KOKORO.onnx [--jobs 14] [--device cuda]
    python -m models.training.spoken INPUTS CORPUS --unpack FOLDER

INPUTS is what examples.py made. The first gives OUT/packedN.ogg (Opus) and packedN.json, one of each for every
process; the second CORPUS/PART/VOICE/NUMBER.flac and CORPUS/manifest.tsv (path, transcript, speaker, set, condition,
split). Of a paused phrase both pieces are kept, with the pause between them; how long it is follows from its number.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

from tests.corpora.voices import by_name

from .speech import Bundle, Speaker, device_of

RATE_HZ = 16_000
GAP = np.zeros(RATE_HZ // 5, np.float32)
PEAK = 0.6
COMPRESSION = 0.92
"""Of soundfile's 0 to 1: about 17 kbit/s of speech."""
MARGIN = 800
PAUSES_S = (0.3, 0.6, 0.9, 1.2)


@dataclass(frozen=True, slots=True)
class Work:
    """What a process is to do: its number among `jobs`."""

    number: int
    jobs: int
    inputs: Path
    out: Path
    graph: Path
    device: str


def sounding(sound: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """The speech with a short margin, at one level; empty where there is none."""
    loud = np.abs(sound)
    highest = float(loud.max(initial=0.0))
    if highest < 1e-3:
        return sound[:0]
    places = np.flatnonzero(loud > 0.01 * highest)
    cut = sound[max(0, places[0] - MARGIN) : places[-1] + MARGIN]
    return np.asarray(cut / highest * PEAK, np.float32)


def say(work: Work) -> float:
    """Say every `jobs`-th example; returns the seconds of speech."""
    items: list[dict[str, Any]] = json.loads((work.inputs / "examples.json").read_text("utf-8"))
    pause: list[int] = json.loads((work.inputs / "pause.json").read_text("utf-8"))
    with np.load(work.inputs / "styles.npz") as file:
        styles = {name: file[name].astype(np.float32) for name in file.files}
    speaker = Speaker(work.graph, work.device)
    pieces: list[npt.NDArray[np.float32]] = [GAP]
    spans: list[tuple[str, list[tuple[int, int]]]] = []
    at = len(GAP)
    for item in items[work.number :: work.jobs]:
        bundle = Bundle()
        for text, tokens in zip(item["texts"], item["tokens"], strict=True):
            bundle.add({"text": text, "kind": "", "tokens": tokens}, pause)
        style = styles[item["style"]][len(bundle.tokens) - 1][None]
        own = []
        for sound in speaker.say(bundle, style, item["rate"]):
            cut = sounding(sound)
            own.append((at, at + len(cut)))
            pieces += [cut, GAP]
            at += len(cut) + len(GAP)
        spans.append((item["name"], own))
    path = work.out / f"packed{work.number}"
    soundfile.write(
        path.with_suffix(".ogg"), np.concatenate(pieces), RATE_HZ, format="OGG", subtype="OPUS",
        compression_level=COMPRESSION,
    )  # fmt: skip
    path.with_suffix(".json").write_text(json.dumps(spans), "utf-8")
    return at / RATE_HZ


def unpacked(packed: Path) -> Iterator[tuple[str, npt.NDArray[np.float32]]]:
    """Name and sound of every example; the pieces of a paused one with their pause."""
    for path in sorted(packed.glob("packed*.json")):
        sound, _ = soundfile.read(path.with_suffix(".ogg"), dtype="float32")
        for name, spans in json.loads(path.read_text("utf-8")):
            number = int(name.rpartition("/")[2].partition("-")[0])
            rest = np.zeros(round(PAUSES_S[number % len(PAUSES_S)] * RATE_HZ), np.float32)
            parts = [sound[start:stop] for start, stop in spans]
            joined = [each for part in parts for each in (rest, part)][1:]
            if all(map(len, parts)):
                yield name, np.concatenate(joined)


def unpack(inputs: Path, packed: Path, corpus: Path) -> None:
    """Write the corpus."""
    items = {each["name"]: each for each in json.loads((inputs / "examples.json").read_text("utf-8"))}
    lines = ["path\ttranscript\tspeaker\tset\tcondition\tsplit"]
    for name, sound in unpacked(packed):
        part, _, number = name.partition("/")
        voice = by_name(items[name]["voice"])
        path = Path(part) / voice.name / f"{number}.flac"
        (corpus / path).parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(corpus / path, sound, RATE_HZ, subtype="PCM_16")
        text = " ".join(items[name]["texts"])
        lines.append(f"{path.as_posix()}\t{text}\t{voice.name}\t{part}\tquiet\t{voice.split}")
    (corpus / "manifest.tsv").write_text("\n".join(lines) + "\n", "utf-8")


def main(arguments: Sequence[str] | None = None) -> int:
    """Say, or unpack."""
    parser = argparse.ArgumentParser(description="Say the examples.")
    parser.add_argument("inputs", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--graph", type=Path)
    parser.add_argument("--unpack", type=Path)
    parser.add_argument("--jobs", type=int, default=14)
    parser.add_argument("--device", default="cuda")
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    if given.unpack is not None:
        unpack(given.inputs, given.unpack, given.out)
        return 0
    works = [
        Work(number, given.jobs, given.inputs, given.out, given.graph, device_of(given.device, number))
        for number in range(given.jobs)
    ]
    with multiprocessing.get_context("spawn").Pool(given.jobs) as pool:
        print(f"{sum(pool.map(say, works, chunksize=1)) / 3600:.2f} h")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
