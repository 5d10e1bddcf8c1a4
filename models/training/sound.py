"""What happens to clean clips on the way to the microphone, made on the GPU for a whole batch at once.

Tempo and pitch, pauses inside phrases, level, rooms near and far, microphones, noise of many kinds and other talk,
breath and clicks, telephone band and coding. Every step draws its own lot for each row, from torch's generator, so
a seed gives the same training again on the same machine.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import torch
from torch import Tensor

RATE = 16_000
SPOTS = 6
"""Places in a clip, at most, where a pause may be cut in."""


def uniform(rows: int, low: float, high: float, device: torch.device) -> Tensor:
    """A column (rows, 1) of draws between `low` and `high`."""
    return torch.empty(rows, 1, device=device).uniform_(low, high)


def rounded(length: float) -> int:
    """A length that Fourier transforms like: the next multiple of 2048."""
    return 2048 * math.ceil(length / 2048)


def lot(rows: int, share: float, device: torch.device) -> Tensor:
    """A column (rows, 1), true for about that share of the rows."""
    return torch.rand(rows, 1, device=device) < share


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


def active_level(sound: Tensor) -> Tensor:
    """Root mean square over the samples that are not silent, shape (rows, 1)."""
    loud = sound.abs() > 1e-3 * sound.abs().amax(1, keepdim=True).clamp(min=1e-6)
    return (sound.square().sum(1, keepdim=True) / loud.sum(1, keepdim=True).clamp(min=1)).sqrt()


def filtered(sound: Tensor, response: Tensor) -> Tensor:
    """`sound` with a gain for each frequency, (rows, n // 2 + 1)."""
    result: Tensor = torch.fft.irfft(torch.fft.rfft(sound) * response, sound.shape[1])
    return result


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


def coloured(rows: int, length: int, device: torch.device) -> Tensor:
    """Noise between white and brown; some of it swells and fades."""
    spectrum = torch.fft.rfft(torch.randn(rows, length, device=device))
    frequency = torch.arange(spectrum.shape[1], device=device).clamp(min=20).float()
    noise = torch.fft.irfft(spectrum * frequency ** -uniform(rows, 0, 1, device), length)
    time = torch.arange(length, device=device) / RATE
    swell = 1 + torch.sin(2 * math.pi * (uniform(rows, 0.3, 6, device) * time + uniform(rows, 0, 1, device)))
    return torch.where(lot(rows, 0.3, device), noise * swell, noise)


def recorded(bank: Tensor, rows: int, length: int) -> Tensor:
    """Stretches of the noise recordings, which lie end to end in `bank`: slower or faster, and some two at once."""
    first = _stretches(bank, rows, length)
    second = _stretches(bank, rows, length) * 10 ** (uniform(rows, -12, 3, bank.device) / 20)
    return torch.where(lot(rows, 0.3, bank.device), first + second, first)


def _stretches(bank: Tensor, rows: int, length: int) -> Tensor:
    speed = torch.where(
        lot(rows, 0.6, bank.device),
        uniform(rows, 0.65, 1.5, bank.device),
        torch.ones(rows, 1, device=bank.device),
    )
    start = torch.randint(0, max(1, len(bank) - length), (rows, 1), device=bank.device)
    place = torch.arange(length, device=bank.device)[None] * speed
    low = place.floor()
    at = start + low.long()
    first, second = bank[at % len(bank)].float(), bank[(at + 1) % len(bank)].float()
    return first + (second - first) * (place - low)


def made(rows: int, length: int, device: torch.device) -> Tensor:
    """Noise that no recording holds: a hum with its harmonics, knocks, or noise that swells as speech does."""
    time = torch.arange(length, device=device)[None] / RATE
    pitch = uniform(rows, 45, 400, device) * (
        1 + 0.03 * torch.sin(2 * math.pi * uniform(rows, 0, 3, device) * time)
    )
    turns = pitch.cumsum(1) / RATE
    hum = torch.zeros(rows, length, device=device)
    for number in range(1, 9):
        hum = hum + torch.sin(2 * math.pi * number * turns) * uniform(rows, 0, 1, device) / number
    beat = uniform(rows, 0.12, 0.9, device)
    since = (time + uniform(rows, 0, 1, device)) % beat
    knocks = torch.randn(rows, length, device=device) * torch.exp(-since / uniform(rows, 0.005, 0.08, device))
    swells = torch.randn(rows, length // 1600 + 2, device=device).exp()[:, None]
    swells = torch.nn.functional.interpolate(swells, size=length, mode="linear", align_corners=True)[:, 0]
    babbling = coloured(rows, length, device) * swells
    kind = torch.rand(rows, 1, device=device)
    return torch.where(kind < 0.25, hum, torch.where(kind < 0.6, knocks, babbling))


def chatter(talk: Tensor, rows: int, most: int = 7) -> Tensor:
    """Two to `most` talkers at once out of `talk` (clips, n), each row others, each at its own level."""
    clips, length = talk.shape
    mixed = torch.zeros(rows, length, device=talk.device)
    for number in range(most):
        chosen = torch.randint(0, clips, (rows,), device=talk.device)
        shift = torch.randint(0, length, (rows, 1), device=talk.device)
        turned = (torch.arange(length, device=talk.device)[None] + shift) % length
        voice = talk[chosen].gather(1, turned)
        voice = voice / active_level(voice).clamp(min=1e-6) * 10 ** (uniform(rows, -9, 0, talk.device) / 20)
        mixed += voice * (lot(rows, 0.5, talk.device) if number > 1 else 1)
    return mixed


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
    """Noise at -3 to 30 dB below the active speech, for most rows less than 13: recordings, made noise, talk."""
    device, (rows, length) = sound.device, sound.shape
    kind = torch.rand(rows, 1, device=device)
    noise = through_microphones(recorded(noises, rows, length), 0.4)
    noise = torch.where(kind > 0.34, coloured(rows, length, device), noise)
    noise = torch.where(kind > 0.42, made(rows, length, device), noise)
    noise = torch.where(kind > 0.5, in_rooms(chatter(talk, rows), 0.5), noise)
    noise = noise / noise.square().mean(1, keepdim=True).sqrt().clamp(min=1e-7)
    snr_db = torch.where(
        lot(rows, 0.75, device), uniform(rows, -3, 13, device), uniform(rows, 13, 30, device)
    )
    return sound + lot(rows, share, device) * noise * active_level(sound) * 10 ** (-snr_db / 20)


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
