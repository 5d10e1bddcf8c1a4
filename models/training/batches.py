"""What training hears, batch by batch, made on the device while the step before is being learnt from.

In some of the batches each frame sees to the end of its own stretch only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from queue import Queue
from random import Random
from threading import Event, Thread

import numpy as np
import torch
from torch import Tensor

from . import sound
from .clips import Clip
from .neighbours import Alike, some_near
from .network import Ear

STRETCHES = (8, 12, 16, 24, 32, 48)
READY = 2
"""Batches that are made ahead, at most."""


@dataclass(frozen=True, slots=True)
class Data:
    """Everything training hears, on the device."""

    bank: sound.Bank
    texts: list[str]
    noises: Tensor
    talk: sound.Bank
    batches: list[list[int]]


@dataclass(frozen=True, slots=True)
class Batch:
    """Sound as a microphone hears it (texts, n), and what is to be learnt from it.

    `wanted` are the states that the untouched encoder has for the same clips without noise; `stretch` how far a frame
    sees (None: everything); `near` are for each text phrases that differ by one word, none where there are none.
    """

    heard: Tensor
    wanted: Tensor
    stretch: int | None
    texts: list[str]
    near: list[list[str]]


def bank_of(clips: Sequence[Clip], device: str) -> sound.Bank:
    """The clips' samples on the device."""
    lengths = torch.tensor([len(clip.samples) for clip in clips])
    starts = torch.cat([torch.zeros(1, dtype=torch.long), lengths.cumsum(0)[:-1]])
    spots = torch.full((len(clips), sound.SPOTS), -1)
    for number, clip in enumerate(clips):
        found = sound.pause_spots(clip.samples)
        spots[number, : len(found)] = torch.tensor(found, dtype=torch.long)
    samples = torch.from_numpy(np.concatenate([clip.samples for clip in clips]))
    return sound.Bank(samples.to(device), starts, lengths, spots)


def batches_of(lengths: Sequence[int], size: int, chance: Random) -> list[list[int]]:
    """Clips of nearly one length together, `size` clips or fewer where they are long."""
    order = sorted(range(len(lengths)), key=lambda each: lengths[each] + chance.randint(0, 6000))
    most_samples = size * 4 * sound.RATE
    batches: list[list[int]] = []
    batch: list[int] = []
    for each in order:
        if batch and (len(batch) == size or (len(batch) + 1) * lengths[each] > most_samples):
            batches.append(batch)
            batch = []
        batch.append(each)
    return [*batches, batch] if batch else batches


@dataclass(frozen=True, slots=True)
class BatchMaker:
    """Makes batches of clips, given by their numbers."""

    data: Data
    teacher: Ear
    talkers: int
    chance: Random
    by_clip: bool
    rivals: int
    limited: float
    """Share of the batches in which a frame does not see everything."""
    alike: Alike

    @torch.no_grad()
    def __call__(self, numbers: Sequence[int]) -> Batch:
        """Every step draws its own lots: a clip is never heard twice the same."""
        clean = sound.placed(self.data.bank, numbers)
        chosen = torch.randint(0, len(self.data.talk.lengths), (self.talkers,)).tolist()
        talk = sound.placed(self.data.talk, chosen, clean.shape[1])
        heard = sound.heard(clean, self.data.noises, talk)
        with torch.autocast(clean.device.type, torch.bfloat16):
            wanted = self.teacher.states(clean).float()
        stretch = (
            None if self.by_clip or self.chance.random() >= self.limited else self.chance.choice(STRETCHES)
        )
        texts = [self.data.texts[each] for each in numbers]
        near = [some_near(text, self.rivals, self.chance, self.alike) for text in texts]
        return Batch(heard, wanted, stretch, texts, near)


def ahead(batches: Iterator[Batch], device: str) -> Iterator[Batch]:
    """The same batches; on a GPU they are made in a thread and a stream of their own. What fails there is raised."""
    if device != "cuda":
        yield from batches
        return
    number, over = torch.cuda.current_device(), Event()
    ready: Queue[Batch | Exception | None] = Queue(READY)

    def make() -> None:
        torch.cuda.set_device(number)
        stream = torch.cuda.Stream()
        try:
            with torch.cuda.stream(stream):
                for batch in batches:
                    stream.synchronize()
                    ready.put(batch)
                    if over.is_set():
                        return
            ready.put(None)
        except Exception as error:
            ready.put(error)

    Thread(target=make, daemon=True).start()
    try:
        while (batch := ready.get()) is not None:
            if isinstance(batch, Exception):
                raise batch
            for each in (batch.heard, batch.wanted):
                each.record_stream(torch.cuda.current_stream())
            yield batch
    finally:
        over.set()
        while not ready.empty():
            ready.get()
