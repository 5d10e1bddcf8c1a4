"""The recipe from end to end with next to no data."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PYTHON = os.environ.get("VOICELOG_TRAINING_PYTHON", sys.executable)


@pytest.mark.sweep
def test_every_step_fits_the_next(tmp_path: Path) -> None:
    """VOICELOG_TRAINING_PYTHON names a Python with the packages of models/training/requirements.txt."""
    command = [PYTHON, "-m", "models.training.smoke", str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=900, check=False)

    assert done.returncode == 0, done.stderr
    result = json.loads(done.stdout.splitlines()[-1])
    assert result["difference"] < 1e-3
    assert 8e6 < result["bytes"] < 16e6
    soon, late = result["average"]
    assert 0.5 < soon < 1  # the first look counts for much
    assert 1 - 1e-3 < late <= 1
    far, beside_itself, itself, none = result["leads"]
    assert far < 1e-3  # 14 of log probability are more than any margin
    assert 0.9 < beside_itself == itself < 1.1  # the likeliest rival counts, and leads by nothing
    assert none == 0
    assert result["mean"] < 1e-2  # half precision
