"""Noise for training, for a whole batch at once: recorded, made, and other people's talk."""

from __future__ import annotations

import math

import torch
from torch import Tensor

from .drawing import active_level, filtered, lot, rounded, uniform

RATE = 16_000


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


def shaped(rows: int, length: int, device: torch.device) -> Tensor:
    """Two noises at once, each of a spectrum of its own, within 20 dB up or down; the second swells and dies away, at
    times slowly, at times as fast as water runs or a motor stutters.
    """
    steady, moving = (_of_any_spectrum(rows, length, device) for _ in range(2))
    rate = (uniform(rows, 0, 1, device) * math.log(60)).exp() * 0.5
    place = torch.arange(length, device=device)[None] / RATE * rate + uniform(rows, 0, 1000, device)
    heights = torch.randn(rows, 4096, device=device)
    low = place.floor().long()
    first, second = heights.gather(1, low % 4096), heights.gather(1, (low + 1) % 4096)
    swell = ((first + (second - first) * (place - low)) * uniform(rows, 0, 1.5, device)).exp()
    return steady * 10 ** (uniform(rows, -20, 6, device) / 20) + moving * swell


def _of_any_spectrum(rows: int, length: int, device: torch.device) -> Tensor:
    points = torch.empty(rows, 1, 14, device=device).uniform_(-20, 20)
    curve = torch.nn.functional.interpolate(points, size=257, mode="linear", align_corners=True)[:, 0]
    # Two points in three lie below 2 kHz, as hearing and speech have it.
    frequency = torch.linspace(0, 1, length // 2 + 1, device=device) ** 0.55 * 256
    low = frequency.floor().long().clamp(max=255)
    gain = curve[:, low] + (curve[:, low + 1] - curve[:, low]) * (frequency - low)
    noise = filtered(torch.randn(rows, length, device=device), 10 ** (gain / 20))
    return noise / noise.square().mean(1, keepdim=True).sqrt().clamp(min=1e-7)


def struck(rows: int, length: int, device: torch.device) -> Tensor:
    """Things that are struck: from a plate now and then to the drops of a tap. Each row has one sound, eight tones that
    die away, set off two to two thousand times a second, some of them louder than others.
    """
    often = (uniform(rows, math.log(1.5), math.log(2000), device)).exp() / RATE
    blows = (torch.rand(rows, length, device=device) < often) * torch.randn(rows, length, device=device)
    blows = blows * (uniform(rows, 0, 1.5, device) * torch.randn(rows, length, device=device)).exp()
    size = rounded(0.25 * RATE)
    time = torch.arange(size, device=device)[None] / RATE
    ringing = torch.zeros(rows, size, device=device)
    for _ in range(8):
        pitch = uniform(rows, math.log(250), math.log(7500), device).exp()
        decay = uniform(rows, math.log(0.001), math.log(0.08), device).exp()
        tone = torch.sin(2 * math.pi * pitch * time) * torch.exp(-time / decay)
        ringing = ringing + tone * uniform(rows, 0, 1, device)
    total = rounded(length + size)
    result: Tensor = torch.fft.irfft(torch.fft.rfft(blows, total) * torch.fft.rfft(ringing, total), total)
    return result[:, :length]
