"""What training makes small."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import torch
import torch.nn.functional as F
from torch import Tensor

from .batches import Batch
from .decoder import Decoder
from .network import BLANK, Ear, encode_text

MARGIN_LOG = 6.0
"""So much likelier (log, base e) should what was said be than a phrase that differs by one word."""


@dataclass(frozen=True, slots=True)
class Losses:
    """CTC; squared distance to the teacher's states in units of their variance; how much of the lead is lacking;
    minus the log probability of a piece of what was said to the attention decoder.
    """

    spelled: Tensor
    distance: Tensor
    lead: Tensor
    written: Tensor


def ctc(logs: Tensor, texts: Sequence[str]) -> Tensor:
    """Minus the log probability of each text, shape (texts,); `logs` are (frames, texts, letters)."""
    spelled = [encode_text(text) for text in texts]
    frames = torch.full((len(texts),), logs.shape[0], dtype=torch.long)
    lengths = torch.tensor([len(text) for text in spelled])
    letters = torch.tensor([letter for text in spelled for letter in text], device=logs.device)
    found: Tensor = F.ctc_loss(
        logs, letters, frames, lengths, blank=BLANK, reduction="none", zero_infinity=True
    )
    return found


def losses(ear: Ear, batch: Batch, decoder: Decoder | None = None) -> Losses:
    """The losses of a batch. The decoder reads whole utterances alone, as it will when it judges."""
    with torch.autocast(batch.heard.device.type, torch.bfloat16):
        states = ear.states(batch.heard, batch.stretch)
        scores = ear.head(states)
        reads = decoder is not None and batch.stretch is None
        written = decoder.written(states, batch.texts).mean() if reads else states.sum() * 0
    logs = scores.float().log_softmax(-1).transpose(0, 1)
    said = ctc(logs, batch.texts)
    lengths = torch.tensor([max(1, len(text)) for text in batch.texts], device=said.device)
    distance = F.mse_loss(states.float(), batch.wanted) / batch.wanted.var()
    return Losses((said / lengths).mean(), distance, lacking(logs, said, batch.near), written)


def lacking(logs: Tensor, said: Tensor, near: Sequence[Sequence[str]]) -> Tensor:
    """How much of the lead before the likeliest of its rivals (`near`) a text lacks, mean of the texts that have any.

    `said` is minus the log probability of each text. 0: every one leads by far; 1: by nothing.
    """
    rows = [row for row, texts in enumerate(near) if texts]
    if not rows:
        return said.sum() * 0
    most = max(len(near[row]) for row in rows)
    # Each has as many rivals, so that a table holds them: the first again where there are fewer.
    tried = [[*near[row], *[near[row][0]] * (most - len(near[row]))] for row in rows]
    places = [row for row in rows for _ in range(most)]
    others = ctc(logs[:, places], [text for texts in tried for text in texts]).view(len(rows), most)
    # A text that does not fit into the sound has no probability and the loss 0: there is nothing to hold apart.
    fits = others > 0
    nearest = others.masked_fill(~fits, torch.inf).amin(1)
    short = F.softplus(MARGIN_LOG - (nearest - said[rows]))
    return torch.where(fits.any(1), short, 0).mean() / MARGIN_LOG
