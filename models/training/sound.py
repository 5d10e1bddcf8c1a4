"""What happens to clean clips on the way to the microphone, made on the GPU for a whole batch at once.

Tempo and pitch, pauses inside phrases, level, rooms near and far, microphones, noise of many kinds and other talk,
breath and clicks, telephone band and coding. Every step draws its own lot for each row, from torch's generator, so
a seed gives the same training again on the same machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import torch
from torch import Tensor

from .drawing import active_level, filtered, lot, rounded, uniform
from .noises import RATE, chatter, coloured, made, recorded, shaped, struck

SPOTS = 6
"""Places in a clip, at most, where a pause may be cut in."""


@dataclass(frozen=True, slots=True)
class Bank:
    """Clips end to end: their 16-bit samples on the device, and on the CPU where each begins, its length, and its
    pause spots (-1: none)."""

    samples: Tensor
    starts: Tensor
    lengths: Tensor
    spots: Tensor


def pause_spots(samples: npt.NDArray[np.int16]) -> list[int]:
    """Quiet places inside a clip, in samples; the speech falls there at least 26 dB below its loudest 20 ms."""
    window = 320
    pieces = samples[: len(samples) // window * window].astype(np.float32).reshape(-1, window)
    power = (pieces * pieces).mean(1)
    if len(power) < 12:
        return []
    found: list[int] = []
    for place in np.flatnonzero(power < power.max() * 10**-2.6).tolist():
        inside = 6 <= place < len(power) - 6
        if inside and (not found or place * window - found[-1] > 2400):
            found.append(place * window + window // 2)
    return found[:SPOTS]


def placed(bank: Bank, rows: Sequence[int], length: int | None = None) -> Tensor:
    """The clips `rows` at their tempo, with pauses and silence around, shape (rows, n), full scale 1.

    The speed of playing changes tempo, pitch and formants together, as the size of a head does. What is drawn here is
    drawn on the CPU, so that the length is known without waiting for the device.
    """
    cpu, device, count = torch.device("cpu"), bank.samples.device, len(rows)
    lengths = bank.lengths[rows].float()[:, None]
    speed = torch.where(lot(count, 0.65, cpu), uniform(count, 0.84, 1.2, cpu), torch.ones_like(lengths))
    chosen = torch.rand(count, SPOTS).masked_fill(bank.spots[rows] < 0, 2.0).argsort(1)[:, :2]
    spots = bank.spots[rows].gather(1, chosen).float()
    how_many = torch.where(lot(count, 0.25, cpu), 1 + lot(count, 0.3, cpu).long(), 0)
    used = (spots >= 0) & (torch.arange(2)[None] < how_many)
    gaps = torch.empty(count, 2).uniform_(0.2, 1.5) * RATE * used * speed
    spots, order = torch.where(used, spots, lengths).sort(1)
    gaps = gaps.gather(1, order)
    before = torch.where(lot(count, 0.3, cpu), uniform(count, 0, 800, cpu), uniform(count, 0, 8000, cpu))
    if length is None:
        spoken = (lengths + gaps.sum(1, keepdim=True)) / speed
        length = rounded(float((spoken + before).max() + 1600 + 8000 * torch.rand(1)))
    speed, spots, gaps, before = (each.to(device) for each in (speed, spots, gaps, before))
    place = (torch.arange(length, device=device)[None] - before) * speed
    gain = torch.ones_like(place)
    for each in range(2):
        spot, gap = spots[:, each : each + 1], gaps[:, each : each + 1]
        gain = gain * _fade(place, spot, gap)
        place = torch.where(place > spot, (place - gap).maximum(spot), place)
    return _read(bank, rows, place) * gain


def _fade(place: Tensor, spot: Tensor, gap: Tensor) -> Tensor:
    """Nothing inside the gap, with edges of 5 ms."""
    inside = torch.minimum(place - spot, spot + gap - place)
    return 1 - (inside / 80).clamp(0, 1)


def _read(bank: Bank, rows: Sequence[int], place: Tensor) -> Tensor:
    """Samples at fractional places, between neighbours in a straight line; silence outside the clip."""
    device = bank.samples.device
    last = bank.lengths[rows].to(device)[:, None] - 1
    low = place.floor().long()
    inside = (place >= 0) & (low < last)
    low = low.clamp(min=0).minimum((last - 1).clamp(min=0))
    at = bank.starts[rows].to(device)[:, None] + low
    part = place - place.floor()
    first, second = bank.samples[at].float(), bank.samples[at + 1].float()
    return (first + (second - first) * part) * inside / 32_768


def in_rooms(sound: Tensor, share: float = 0.6) -> Tensor:
    """Reverberation for some rows: 0.15 to 1.1 s; direct sound up to 14 dB above the rest, in half of them up to 12 dB
    below it."""
    device, (rows, length) = sound.device, sound.shape
    far = lot(rows, 0.5, device)
    direct_db = torch.where(far, uniform(rows, -12, 0, device), uniform(rows, 0, 14, device))
    tail = _tails(rows, device)
    tail = tail / tail.norm(dim=1, keepdim=True) * 10 ** (-direct_db / 20)
    tail[:, 0] = 1
    total = rounded(length + tail.shape[1])
    wet = torch.fft.irfft(torch.fft.rfft(sound, total) * torch.fft.rfft(tail, total), total)[:, :length]
    # What is far away loses its treble.
    frequency = torch.linspace(0, 8000, length // 2 + 1, device=device)
    corner = torch.where(far, uniform(rows, 3500, 8000, device), torch.full_like(direct_db, 16_000))
    wet = filtered(wet, 1 / (1 + (frequency / corner) ** 4).sqrt())
    wet = wet * active_level(sound) / active_level(wet).clamp(min=1e-6)
    return torch.where(lot(rows, share, device), wet, sound)


def _tails(rows: int, device: torch.device) -> Tensor:
    """What a room adds to the direct sound: noise that dies away, in half of the rows behind six early reflections."""
    size = int(0.8 * RATE)
    decay = torch.exp(-6.9 * torch.arange(size, device=device) / RATE / uniform(rows, 0.15, 1.1, device))
    tail = torch.randn(rows, size, device=device) * decay
    tail[:, : int(0.002 * RATE)] = 0
    places = torch.randint(int(0.002 * RATE), int(0.03 * RATE), (rows, 6), device=device)
    heights = torch.randn(rows, 6, device=device) * 4 * decay.gather(1, places)
    diffuse = tail.clone()
    diffuse[:, : int(0.012 * RATE)] = 0
    return torch.where(lot(rows, 0.5, device), diffuse.scatter_add(1, places, heights), tail)


def through_microphones(sound: Tensor, share: float = 0.5) -> Tensor:
    """A smooth, random frequency response for some rows, within 9 dB up or down."""
    rows, length = sound.shape
    points = torch.empty(rows, 1, 9, device=sound.device).uniform_(-9, 9)
    curve = torch.nn.functional.interpolate(points, size=length // 2 + 1, mode="linear", align_corners=True)
    return torch.where(lot(rows, share, sound.device), filtered(sound, 10 ** (curve[:, 0] / 20)), sound)


def breath_and_clicks(sound: Tensor, share: float = 0.25) -> Tensor:
    """A breath (shaped noise of a third of a second) and a click or two at any place of some rows."""
    device, (rows, length) = sound.device, sound.shape
    time = torch.arange(length, device=device)[None]
    level = active_level(sound)
    middle, half = uniform(rows, 0, length, device), uniform(rows, 1600, 4000, device)
    hump = torch.cos((time - middle) / half * math.pi / 2).clamp(min=0) * ((time - middle).abs() < half)
    noise = torch.randn(rows, length, device=device)
    noise = noise - 0.6 * noise.roll(1, 1)
    breath = noise * hump * level * 10 ** (uniform(rows, -32, -14, device) / 20)
    sound = sound + breath * lot(rows, share, device)
    for _ in range(2):
        since = time - uniform(rows, 0, length, device)
        click = torch.randn(rows, length, device=device) * torch.exp(-since.clamp(min=0) / 40) * (since >= 0)
        loudness = level * 10 ** (uniform(rows, -15, 10, device) / 20)
        sound = sound + click * loudness * lot(rows, share / 2, device)
    return sound


def telephone(sound: Tensor, share: float = 0.22) -> Tensor:
    """Some rows in the telephone band, half of these in 8-bit mu-law steps (ITU-T G.711, continuous form)."""
    device, (rows, length) = sound.device, sound.shape
    frequency = torch.linspace(0, 8000, length // 2 + 1, device=device)[None]
    low, high = uniform(rows, 60, 330, device), uniform(rows, 3200, 3900, device)
    band = torch.where(frequency < low, 0.05, 1.0) * (frequency < high)
    narrow = filtered(sound, band)
    peak = narrow.abs().amax(1, keepdim=True) + 1e-6
    steps = narrow.sign() * torch.log1p(255 * (narrow / peak).abs()) / math.log(256)
    steps = torch.round(steps * 127) / 127
    coded = steps.sign() * torch.expm1(steps.abs() * math.log(256)) / 255 * peak
    narrow = torch.where(lot(rows, 0.5, device), coded, narrow)
    return torch.where(lot(rows, share, device), narrow, sound)


def band_limited(sound: Tensor, share: float = 0.2) -> Tensor:
    """Some rows cut off above 3.4 to 7.2 kHz."""
    frequency = torch.linspace(0, 8000, sound.shape[1] // 2 + 1, device=sound.device)[None]
    limit = uniform(len(sound), 3400, 7200, sound.device)
    return torch.where(
        lot(len(sound), share, sound.device), filtered(sound, (frequency < limit).float()), sound
    )


def with_noise(sound: Tensor, noises: Tensor, talk: Tensor, share: float = 0.8) -> Tensor:
    """Noise at -3 to 30 dB below the active speech, for most rows less than 14: recordings, made noise, talk; in one
    row of six two of these at once.
    """
    device, (rows, length) = sound.device, sound.shape
    noise = _of_all_kinds(noises, talk, rows, length)
    second = noise.roll(1, 0) * 10 ** (uniform(rows, -12, 0, device) / 20)
    noise = noise + second * lot(rows, 1 / 6, device)
    noise = noise / noise.square().mean(1, keepdim=True).sqrt().clamp(min=1e-7)
    snr_db = torch.where(
        lot(rows, 0.78, device), uniform(rows, -3, 14, device), uniform(rows, 14, 30, device)
    )
    return sound + lot(rows, share, device) * noise * active_level(sound) * 10 ** (-snr_db / 20)


KINDS = {"recorded": 0.3, "coloured": 0.07, "made": 0.07, "shaped": 0.12, "struck": 0.1, "talk": 0.34}
"""Of so many rows each kind of noise is, by lot."""


def _of_all_kinds(noises: Tensor, talk: Tensor, rows: int, length: int) -> Tensor:
    device = talk.device
    makers: dict[str, Callable[[int], Tensor]] = {
        "recorded": lambda count: through_microphones(recorded(noises, count, length), 0.4),
        "coloured": lambda count: coloured(count, length, device),
        "made": lambda count: made(count, length, device),
        "shaped": lambda count: shaped(count, length, device),
        "struck": lambda count: struck(count, length, device),
        "talk": lambda count: in_rooms(chatter(talk, count), 0.5),
    }
    kinds = torch.multinomial(torch.tensor(list(KINDS.values())), rows, replacement=True)
    counts = torch.bincount(kinds, minlength=len(KINDS)).tolist()
    made_ones = [makers[kind](count) for kind, count in zip(KINDS, counts, strict=True) if count]
    noise = torch.cat(made_ones)
    noise = noise / noise.square().mean(1, keepdim=True).sqrt().clamp(min=1e-7)
    return noise[torch.randperm(rows, device=device)]


def heard(clean: Tensor, noises: Tensor, talk: Tensor) -> Tensor:
    """Clean clips (rows, n) as a microphone hears them."""
    sound = in_rooms(clean)
    sound = breath_and_clicks(sound)
    sound = with_noise(sound, noises, talk)
    sound = through_microphones(sound)
    sound = band_limited(telephone(sound))
    rows = len(sound)
    loud = uniform(rows, math.log(0.03), math.log(2.0), sound.device).exp()
    sound = sound * loud
    clipped = torch.where(lot(rows, 0.05, sound.device), sound * 4, sound)
    return clipped.clamp(-1, 1)
