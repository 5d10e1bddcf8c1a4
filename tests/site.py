"""Builds the site of the documents: python -m tests.site FOLDER (needs mkdocs).

The documents lie where they belong in the repository, and link to each other there. They are put together under one
folder in the same order, so that no link has to be rewritten.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
DOCUMENTS = (
    *("README.md", "DEVELOPERS.md", "LICENSE", "docs/*.md", "docs/*.svg", "docs/screens/*.png"),
    *("models/README.md", "models/en/README.md", "models/training/README.md", "voicelog/demo/README.md"),
)


def build(folder: Path) -> None:
    """Write the site into a folder. Raises CalledProcessError, with mkdocs's own words, where a link leads nowhere."""
    with tempfile.TemporaryDirectory() as made:
        beside = Path(made)
        for pattern in DOCUMENTS:
            for path in ROOT.glob(pattern):
                there = beside / "pages" / path.relative_to(ROOT)
                there.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(path, there)
        shutil.copyfile(ROOT / "mkdocs.yml", beside / "mkdocs.yml")
        subprocess.run(
            [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", folder.resolve()],
            cwd=beside,
            check=True,
            capture_output=True,
            text=True,
        )


if __name__ == "__main__":
    try:
        build(Path(sys.argv[1]))
    except subprocess.CalledProcessError as failed:
        sys.exit(failed.stderr + failed.stdout)
