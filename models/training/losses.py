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
"""So much likelier (log, base e) should what was said be than a phrase that differs by one word,"""
WRITTEN_MARGIN_LOG = 8.0
"""and so much to the decoder: what may be entered needs about as much of both (letter_limits.toml)."""


@dataclass(frozen=True, slots=True)
class Losses:
    """CTC; squared distance to the teacher's states in units of their variance; how much of the lead is lacking;
    minus the log probability of a piece of what was said to the attention decoder, and how much of the lead is lacking
    to that.
    """

    spelled: Tensor
    distance: Tensor
    lead: Tensor
    written: Tensor
    preferred: Tensor


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
    """The losses of a batch. The decoder reads whole utterances alone, as it will when it judges. It compares what was
    said with the rival that is likeliest to the letters.
    """
    kind = batch.heard.device.type
    with torch.autocast(kind, torch.bfloat16):
        states = ear.states(batch.heard, batch.stretch)
        scores = ear.head(states)
    logs = scores.float().log_softmax(-1).transpose(0, 1)
    said = ctc(logs, batch.texts)
    rivals = nearest_rivals(logs, said, batch.near)
    written = preferred = said.sum() * 0
    if decoder is not None and batch.stretch is None:
        with torch.autocast(kind, torch.bfloat16):
            found = decoder.written(torch.cat([states, states[rivals.rows]]), [*batch.texts, *rivals.texts])
        own = found[: len(batch.texts)]
        pieces = torch.tensor([len(decoder.pieces(text)) for text in batch.texts], device=own.device)
        written = (own / pieces).mean()
        if rivals.texts:
            ahead = found[len(batch.texts) :] - own[rivals.rows]
            preferred = F.softplus(WRITTEN_MARGIN_LOG - ahead).mean() / WRITTEN_MARGIN_LOG
    lengths = torch.tensor([max(1, len(text)) for text in batch.texts], device=said.device)
    distance = F.mse_loss(states.float(), batch.wanted) / batch.wanted.var()
    return Losses((said / lengths).mean(), distance, rivals.lacking, written, preferred)


@dataclass(frozen=True, slots=True)
class Rivals:
    """The likeliest rival of each text that has any: the texts' rows, the rivals, and how much of the lead before them
    is lacking, the mean (0: every one leads by far; 1: by nothing).
    """

    rows: list[int]
    texts: list[str]
    lacking: Tensor


def nearest_rivals(logs: Tensor, said: Tensor, near: Sequence[Sequence[str]]) -> Rivals:
    """The likeliest among the rivals (`near`) of each text; `said` is minus the log probability of each text."""
    rows = [row for row, texts in enumerate(near) if texts]
    if not rows:
        return Rivals([], [], said.sum() * 0)
    most = max(len(near[row]) for row in rows)
    # Each has as many rivals, so that a table holds them: the first again where there are fewer.
    tried = [[*near[row], *[near[row][0]] * (most - len(near[row]))] for row in rows]
    places = [row for row in rows for _ in range(most)]
    others = ctc(logs[:, places], [text for texts in tried for text in texts]).view(len(rows), most)
    # A text that does not fit into the sound has no probability and the loss 0: there is nothing to hold apart.
    fits = others > 0
    nearest, which = others.masked_fill(~fits, torch.inf).min(1)
    short = F.softplus(MARGIN_LOG - (nearest - said[rows]))
    lacking = torch.where(fits.any(1), short, 0).mean() / MARGIN_LOG
    return Rivals(rows, [texts[each] for texts, each in zip(tried, which.tolist(), strict=True)], lacking)
