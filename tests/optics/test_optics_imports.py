"""What the optics may lean on: the standard library and NumPy, nothing else, and nothing of ours."""

import ast
import pathlib
import subprocess
import sys
from collections.abc import Iterator

import voicelog.optics

FOLDER = pathlib.Path(voicelog.optics.__file__).parent
MAX_CODE_LINES = 400


def imported_roots(path: pathlib.Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def test_modules_import_only_the_standard_library_numpy_and_each_other() -> None:
    for path in FOLDER.glob("*.py"):
        for name in imported_roots(path):
            root = name.split(".")[0]
            allowed = root in sys.stdlib_module_names or root == "numpy" or name.startswith("voicelog.optics")
            assert allowed, f"{path.name} imports {name}; optics may use the standard library and NumPy only"


def test_importing_loads_no_other_package() -> None:
    """In a fresh interpreter, so that what the tests import does not count."""
    code = (
        "import sys, voicelog.optics; "
        "print(*{n.split('.')[0] for n in sys.modules} - set(sys.stdlib_module_names))"
    )
    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=FOLDER.parents[1]
    )

    loaded = {name for name in shown.stdout.split() if not name.startswith("_")}
    assert loaded <= {"numpy", "voicelog"}


def test_modules_stay_small() -> None:
    for path in FOLDER.glob("*.py"):
        lines = path.read_text(encoding="utf-8").splitlines()
        assert sum(1 for line in lines if line.strip()) <= MAX_CODE_LINES, path.name
