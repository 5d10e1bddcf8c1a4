"""The mean of the weights over the last steps: steadier than the weights of any one step, and it costs next to nothing.

An exponential moving average, as B. Polyak and A. Juditsky (1992) average the steps of a search; the form and the
slow start are common practice.
"""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy

import torch
from torch import Tensor, nn

EVERY = 8
"""Steps from one look at the weights to the next."""


class Average:
    """The moving average of a network's weights. `decay` is the share of the mean that a step leaves in place, 0 to 1:
    0.998 looks back some 500 steps, 0 takes the weights as they are.
    """

    def __init__(self, network: nn.Module, decay: float) -> None:
        self.network = deepcopy(network)
        self._kept = decay**EVERY
        self._looks = 0

    @torch.no_grad()
    def look(self, network: nn.Module, step: int) -> None:
        """Take in the weights of `network` after its `step`-th step; of EVERY steps one counts."""
        if step % EVERY:
            return
        self._looks += 1
        # The first looks count for more, so that the mean does not cling to where the run began.
        kept = min(self._kept, self._looks / (10 + self._looks))
        for mean, now in zip(_weights(self.network), _weights(network), strict=True):
            mean.lerp_(now, 1 - kept)


def _weights(network: nn.Module) -> Iterable[Tensor]:
    return network.state_dict().values()
