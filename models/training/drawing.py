"""Draws for the rows of a batch, and what sounds are measured and filtered with."""

from __future__ import annotations

import math

import torch
from torch import Tensor


def uniform(rows: int, low: float, high: float, device: torch.device) -> Tensor:
    """A column (rows, 1) of draws between `low` and `high`."""
    return torch.empty(rows, 1, device=device).uniform_(low, high)


def rounded(length: float) -> int:
    """A length that Fourier transforms like: the next multiple of 2048."""
    return 2048 * math.ceil(length / 2048)


def lot(rows: int, share: float, device: torch.device) -> Tensor:
    """A column (rows, 1), true for about that share of the rows."""
    return torch.rand(rows, 1, device=device) < share


def active_level(sound: Tensor) -> Tensor:
    """Root mean square over the samples that are not silent, shape (rows, 1)."""
    loud = sound.abs() > 1e-3 * sound.abs().amax(1, keepdim=True).clamp(min=1e-6)
    return (sound.square().sum(1, keepdim=True) / loud.sum(1, keepdim=True).clamp(min=1)).sqrt()


def filtered(sound: Tensor, response: Tensor) -> Tensor:
    """`sound` with a gain for each frequency, (rows, n // 2 + 1)."""
    result: Tensor = torch.fft.irfft(torch.fft.rfft(sound) * response, sound.shape[1])
    return result
