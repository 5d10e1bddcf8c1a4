"""Voices that are mixed for training."""

from importlib import import_module
from pathlib import Path
from random import Random

import numpy as np

# Imported by name: its types need torch, which only training installs.
SPEECH = import_module("models.training.speech")


def mixed(folder: Path, beyond: float) -> list[float]:
    """What 400 mixed voices are, where one voice is 0 and the other 1."""
    path = folder / "styles.npz"
    np.savez(path, ax=np.zeros((2, 256)), zx=np.ones((2, 256)))
    voices, chance = SPEECH.Voices(path, beyond), Random(3)
    return [float(voices.draw(1, chance)[1][0, 0]) for _ in range(400)]


def test_a_mixed_voice_lies_between_its_parts_or_a_little_beyond(tmp_path: Path) -> None:
    between, beyond = mixed(tmp_path, 0.0), mixed(tmp_path, 0.2)

    assert 0 == min(between) < max(between) == 1
    assert any(0.1 < each < 0.9 for each in between)
    assert -0.2 <= min(beyond) < -0.05
    assert 1.05 < max(beyond) <= 1.2
