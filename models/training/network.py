"""The network in torch, for training: sound in, letters frame by frame out.

It is the encoder of moonshine tiny with three changes, and a head:

- *Level.* The original divides by the spread over the whole clip, so that what comes late changes what came early.
  Here each frame is divided by the highest level of the three seconds up to it.
- *Sight.* In half of the training batches a frame sees only its own stretch of frames and those before, so that the
  same weights serve for a whole utterance at once and for one that is still being spoken.
- *Depth.* Further layers may follow the six of the original. Each begins as one that changes nothing.
- *Head.* Two convolutions that look back only, and one row a letter (CTC, A. Graves et al., 2006).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor, nn

LETTERS = " abcdefghijklmnopqrstuvwxyz'"
BLANK = len(LETTERS)
"""Column of the blank: the last of 29."""
_COLUMNS = {letter: column for column, letter in enumerate(LETTERS)}

WIDTH, INNER, LAYERS, HEADS, HEAD_WIDTH, ROTATED = 288, 1152, 6, 8, 36, 32
HEAD_INNER, HEAD_SPAN = 384, 5
LOOK_BACK = 2 * (HEAD_SPAN - 1)
"""Frames before the first that the head looks at."""

SMOOTHED, HELD = 10, 750
"""First-stage frames (4 ms) over which a level is averaged, and over which its highest value is held (3 s)."""
LEVEL_HISTORY = SMOOTHED - 1 + HELD - 1
LEVEL_FLOOR = 1e-6
SPREAD_OF_PEAK = 0.14
"""Usual ratio of the variance over a clip, whose root the original divides by, to the highest level."""

STRIDE, RECEPTIVE = 384, 895
"""Samples from one frame to the next, and samples that one frame sees through the convolutions."""


def encode_text(text: str) -> list[int]:
    """Columns of a text's letters."""
    return [_COLUMNS[letter] for letter in text]


def frames_of(samples: int) -> int:
    """How many frames a sound of that many samples gives."""
    return 0 if samples < RECEPTIVE else (samples - RECEPTIVE) // STRIDE + 1


def convolved(rows: Tensor, convolution: nn.Conv1d) -> Tensor:
    """Rows (batch, frames, channels) through a convolution, as one matrix product: the library that convolves plans
    anew for every length, on the CPU, and the lengths of batches differ.
    """
    windows = rows.unfold(1, convolution.kernel_size[0], convolution.stride[0]).transpose(2, 3).flatten(2)
    return F.linear(windows, convolution.weight.permute(0, 2, 1).flatten(1), convolution.bias)


class Layer(nn.Module):
    """One layer of the encoder."""

    def __init__(self, dropout: float) -> None:
        super().__init__()
        self.input_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.self_attn = nn.ModuleDict(
            {f"{name}_proj": nn.Linear(WIDTH, WIDTH, bias=False) for name in "qkvo"}
        )
        self.post_attention_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.mlp = nn.ModuleDict({"fc1": nn.Linear(WIDTH, INNER), "fc2": nn.Linear(INNER, WIDTH)})
        self.dropout = nn.Dropout(dropout)

    def forward(self, states: Tensor, turn: tuple[Tensor, Tensor], seen: Tensor | None) -> Tensor:
        """States (batch, frames, 288) to the same; `turn` are cosine and sine (frames, 16); `seen` who sees whom."""
        normed = self.input_layernorm(states)
        batch, frames, _ = normed.shape
        # One product for all three. Fast kernels want widths in eights: 36 becomes 40, and the scale stays that of 36.
        weights = torch.cat([self.self_attn[f"{name}_proj"].weight for name in "qkv"])
        weights = F.pad(weights.view(-1, HEAD_WIDTH, WIDTH), (0, 0, 0, 4)).flatten(0, 1)
        split = F.linear(normed, weights).view(batch, frames, 3, HEADS, HEAD_WIDTH + 4).permute(2, 0, 3, 1, 4)
        queries, keys = rotated(split[:2], *turn)
        found = F.scaled_dot_product_attention(queries, keys, split[2], seen, scale=HEAD_WIDTH**-0.5)
        found = found[..., :HEAD_WIDTH].transpose(1, 2).reshape(batch, frames, WIDTH)
        states = states + self.dropout(self.self_attn["o_proj"](found))
        inner = F.gelu(self.mlp["fc1"](self.post_attention_layernorm(states)))
        result: Tensor = states + self.dropout(self.mlp["fc2"](inner))
        return result


def rotated(rows: Tensor, cosine: Tensor, sine: Tensor) -> Tensor:
    """Rotary position: the first 16 and the next 16 of each head's 36 are turned as pairs."""
    half = ROTATED // 2
    first, second, rest = rows[..., :half], rows[..., half:ROTATED], rows[..., ROTATED:]
    cosine, sine = cosine.to(rows.dtype), sine.to(rows.dtype)
    return torch.cat([first * cosine - second * sine, second * cosine + first * sine, rest], -1)


class Head(nn.Module):
    """States to letters."""

    def __init__(self, dropout: float) -> None:
        super().__init__()
        self.first = nn.Conv1d(WIDTH, HEAD_INNER, HEAD_SPAN)
        self.first_norm = nn.LayerNorm(HEAD_INNER)
        self.second = nn.Conv1d(HEAD_INNER, HEAD_INNER, HEAD_SPAN)
        self.second_norm = nn.LayerNorm(HEAD_INNER)
        self.letters = nn.Linear(HEAD_INNER, BLANK + 1)
        self.dropout = nn.Dropout(dropout)

    def forward(self, states: Tensor) -> Tensor:
        """States (batch, frames, 288) to scores (batch, frames, 29), not yet normalised."""
        before = F.pad(states.transpose(1, 2), (LOOK_BACK, 0))
        first = self.first_norm(F.gelu(self.first(before)).transpose(1, 2))
        first = self.dropout(first)
        second = self.second_norm(F.gelu(self.second(first.transpose(1, 2))).transpose(1, 2))
        scores: Tensor = self.letters(self.dropout(first[:, HEAD_SPAN - 1 :] + second))
        return scores


class Ear(nn.Module):
    """The whole network. With `by_clip` the level is taken over the whole clip, as the original does."""

    def __init__(self, dropout: float = 0.0, by_clip: bool = False, layers: int = LAYERS) -> None:
        super().__init__()
        self.by_clip = by_clip
        self.conv1 = nn.Conv1d(1, WIDTH, 127, stride=64, bias=False)
        self.norm = nn.ParameterDict(
            {"weight": nn.Parameter(torch.ones(WIDTH)), "bias": nn.Parameter(torch.zeros(WIDTH))}
        )
        self.conv2 = nn.Conv1d(WIDTH, 2 * WIDTH, 7, stride=3)
        self.conv3 = nn.Conv1d(2 * WIDTH, WIDTH, 3, stride=2)
        self.layers = nn.ModuleList([Layer(dropout) for _ in range(layers)])
        self.layer_norm = nn.LayerNorm(WIDTH, bias=False)
        self.head = Head(2 * dropout)

    def levelled(self, first: Tensor) -> Tensor:
        """The first stage (batch, frames, 288) brought to one level."""
        if self.by_clip:
            turned = first.transpose(1, 2)
            return F.group_norm(turned, 1, self.norm["weight"], self.norm["bias"], 1e-5).transpose(1, 2)
        power = first.square().mean(2)[:, None]
        smooth = F.avg_pool1d(F.pad(power, (LEVEL_HISTORY, 0)), SMOOTHED, 1)
        peak = F.max_pool1d(smooth, HELD, 1)[:, 0, :, None]
        scaled = first * (SPREAD_OF_PEAK * peak + LEVEL_FLOOR).rsqrt()
        result: Tensor = scaled * self.norm["weight"] + self.norm["bias"]
        return result

    def states(self, samples: Tensor, stretch: int | None = None) -> Tensor:
        """Sound (batch, n) to states (batch, frames, 288); frames see to the end of their stretch, None: everything."""
        kind = samples.device.type
        with torch.autocast(kind, enabled=False):
            first = self.levelled(torch.tanh(convolved(samples[:, :, None], self.conv1)))
        if torch.is_autocast_enabled(kind):
            first = first.to(torch.get_autocast_dtype(kind))
        found = F.gelu(convolved(F.gelu(convolved(first, self.conv2)), self.conv3))
        frames = found.shape[1]
        place = torch.arange(frames, device=samples.device)
        speed = 10_000 ** (-torch.arange(0, ROTATED, 2, device=samples.device) / ROTATED)
        angle = place[:, None] * speed
        seen = None if stretch is None else (place[None] // stretch) <= (place[:, None] // stretch)
        for layer in self.layers:
            found = layer(found, (angle.cos(), angle.sin()), seen)
        result: Tensor = self.layer_norm(found)
        return result

    def forward(self, samples: Tensor, stretch: int | None = None) -> tuple[Tensor, Tensor]:
        """Sound (batch, n) to states (batch, frames, 288) and log probabilities (batch, frames, 29)."""
        states = self.states(samples, stretch)
        return states, self.head(states).float().log_softmax(-1)

    def load_encoder(self, path: Path) -> None:
        """Take the encoder's weights from a file of weights.py; the head stays as it is."""
        with np.load(path) as file:
            weights = {name: torch.from_numpy(file[name]) for name in file.files}
        self.load_part(weights, str(path))

    def load_part(self, weights: dict[str, Tensor], origin: str) -> None:
        """Take weights; without those of the head it stays as it is. Layers that are too few are followed by such as
        change nothing: the last again, its outputs 0. Raises ValueError where they do not fit; `origin` is named then.
        """
        last = max(int(name.split(".")[1]) for name in weights if name.startswith("layers."))
        grown = dict(weights)
        for number in range(last + 1, len(self.layers)):
            for name, value in weights.items():
                if name.startswith(f"layers.{last}."):
                    adds = ".o_proj." in name or ".fc2." in name
                    new = name.replace(str(last), str(number), 1)
                    grown[new] = torch.zeros_like(value) if adds else value
        missing, unexpected = self.load_state_dict(grown, strict=False)
        if unexpected or any(not name.startswith("head.") for name in missing):
            raise ValueError(f"{origin} does not fit: {[*missing, *unexpected][:5]}")
