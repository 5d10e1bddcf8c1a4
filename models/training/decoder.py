"""The packaged attention decoder in torch, its weights as they are: what it makes of the encoder's states.

The judge of phrases (voicelog/hearing/engines/scoring.py) reads the states of our encoder. Training sends what this
decoder would write, given what was said so far, back into the encoder; the decoder itself is never changed.
Moonshine tiny: 6 layers, each attends to the text so far (rotary positions), to the states, and has a gated linear
unit; N. Jeffries et al., 2024. The 8-bit weights are multiplied out when they are read.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor, nn

from voicelog.hearing.engines.tokens import BEGIN, Tokeniser, pieces_of

from .network import HEAD_WIDTH, HEADS, ROTATED, WIDTH, rotated

LAYERS, INNER, PIECES = 6, 1152, 32_768
NOTHING = -100
"""In place of a piece behind the end of a shorter text."""


class Attention(nn.Module):
    """One attention, without biases; `turn` are cosine and sine (positions, 16), None: no position counts."""

    def __init__(self) -> None:
        super().__init__()
        for name in "qkvo":
            setattr(self, f"{name}_proj", nn.Linear(WIDTH, WIDTH, bias=False))

    def forward(self, asking: Tensor, asked: Tensor, turn: tuple[Tensor, Tensor] | None) -> Tensor:
        """Rows (batch, positions, 288) that ask rows (batch, frames, 288); in the text itself only what is before."""
        parts = [(self.q_proj, asking), (self.k_proj, asked), (self.v_proj, asked)]
        # Fast kernels want widths in eights: 36 becomes 40, and the scale stays that of 36.
        split = [
            layer(rows).view(len(rows), rows.shape[1], HEADS, HEAD_WIDTH).transpose(1, 2)
            for layer, rows in parts
        ]
        if turn is not None:
            split[:2] = [rotated(rows, *turn) for rows in split[:2]]
        queries, keys, values = (F.pad(rows, (0, 4)) for rows in split)
        found = F.scaled_dot_product_attention(
            queries, keys, values, is_causal=turn is not None, scale=HEAD_WIDTH**-0.5
        )
        joined = found[..., :HEAD_WIDTH].transpose(1, 2).reshape(asking.shape)
        result: Tensor = self.o_proj(joined)
        return result


class Layer(nn.Module):
    """One layer of the decoder."""

    def __init__(self) -> None:
        super().__init__()
        self.input_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.self_attn = Attention()
        self.post_attention_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.encoder_attn = Attention()
        self.final_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.mlp = nn.ModuleDict({"fc1": nn.Linear(WIDTH, 2 * INNER), "fc2": nn.Linear(INNER, WIDTH)})

    def forward(self, rows: Tensor, states: Tensor, turn: tuple[Tensor, Tensor]) -> Tensor:
        """Rows of the text (batch, positions, 288) to the same."""
        normed = self.input_layernorm(rows)
        rows = rows + self.self_attn(normed, normed, turn)
        rows = rows + self.encoder_attn(self.post_attention_layernorm(rows), states, None)
        inner, gate = self.mlp["fc1"](self.final_layernorm(rows)).chunk(2, -1)
        result: Tensor = rows + self.mlp["fc2"](F.silu(gate) * inner)
        return result


class Decoder(nn.Module):
    """The decoder. `path` is what weights.py wrote; the vocabulary lies beside it."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.embed_tokens = nn.Embedding(PIECES, WIDTH)
        self.layers = nn.ModuleList([Layer() for _ in range(LAYERS)])
        self.norm = nn.LayerNorm(WIDTH, bias=False)
        self.proj_out = nn.Linear(WIDTH, PIECES, bias=False)
        with np.load(path) as file:
            self.load_state_dict({name: torch.from_numpy(file[name]).float() for name in file.files})
        self.requires_grad_(False)
        self.tokeniser = Tokeniser.read(path.with_name("tokenizer.bin"))

    def forward(self, states: Tensor, given: Tensor) -> Tensor:
        """States (batch, frames, 288) and the pieces so far (batch, positions) to scores of the next (..., 32768)."""
        place = torch.arange(given.shape[1], device=given.device)
        speed = 10_000 ** (-torch.arange(0, ROTATED, 2, device=given.device) / ROTATED)
        angle = place[:, None] * speed
        rows = self.embed_tokens(given)
        for layer in self.layers:
            rows = layer(rows, states, (angle.cos(), angle.sin()))
        result: Tensor = self.proj_out(self.norm(rows))
        return result

    def pieces(self, text: str) -> tuple[int, ...]:
        """The pieces of a text, and its end."""
        return pieces_of(self.tokeniser, text)

    def written(self, states: Tensor, texts: Sequence[str]) -> Tensor:
        """Minus the log probability of each text, shape (texts,)."""
        lines = [self.pieces(text) for text in texts]
        longest = max(len(line) for line in lines)
        wanted = torch.full((len(lines), longest), NOTHING)
        given = torch.full((len(lines), longest), BEGIN)
        for row, line in enumerate(lines):
            wanted[row, : len(line)] = torch.tensor(line)
            given[row, 1 : len(line)] = torch.tensor(line[:-1])
        scores = self(states, given.to(states.device))
        wanted = wanted.to(states.device)
        each = F.cross_entropy(scores.flatten(0, 1), wanted.flatten(), ignore_index=NOTHING, reduction="none")
        return each.view(wanted.shape).float().sum(1)
