"""The mean of the weights of exported models that come from one another: steadier than each of them, where they were
trained at different rates or for different times (M. Wortsman et al., 2022).

    python -m models.training.mean OUT MODEL=SHARE...

OUT is written as train.py writes ear.pt, for export.py.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path

import torch

from .export import read_model


def mean_of(shares: Mapping[Path, float]) -> dict[str, torch.Tensor]:
    """The mean weights by their names. Raises ValueError where the models differ in form."""
    models = {path: read_model(path) for path in shares}
    forms = [{name: value.shape for name, value in model.items()} for model in models.values()]
    if any(form != forms[0] for form in forms):
        raise ValueError(f"{', '.join(map(str, shares))} differ in form")
    whole = sum(shares.values())
    return {
        name: torch.from_numpy(sum(shares[path] / whole * model[name] for path, model in models.items()))
        for name in forms[0]
    }


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the mean."""
    parser = argparse.ArgumentParser(description="The mean of models.")
    parser.add_argument("out", type=Path)
    parser.add_argument("models", nargs="+", metavar="MODEL=SHARE")
    given = parser.parse_args(arguments)
    named = (each.rpartition("=") for each in given.models)
    weights = {
        name: value.half() for name, value in mean_of({Path(a): float(b) for a, _, b in named}).items()
    }
    torch.save({"ear": weights, "by_clip": False, "seconds": 0.0}, given.out)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
