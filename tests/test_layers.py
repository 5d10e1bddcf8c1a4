"""Packages depend one way only."""

import ast
from pathlib import Path

import pytest

import voicelog

ROOT = Path(voicelog.__file__).parent
ORDER = (
    "errors",
    "demo",
    "optics",
    "phrases",
    "exam",
    "settings",
    "hearing",
    "record",
    "speaking",
    "screen",
    "session",
    "live",
    "practice",
    "measuring",
    "page",
    "cli",
)
ALONE = {"errors", "optics"}
MAY_NOT = {
    "optics": {"pydantic", "sqlite3", "sounddevice", "soundfile", "onnxruntime", "rich"},
    "phrases": {"sqlite3", "sounddevice", "soundfile", "onnxruntime", "rich"},
    "exam": {"sqlite3", "sounddevice", "soundfile", "onnxruntime", "rich"},
}
MAY_NOT_OURS = {"hearing": {"exam", "record", "screen"}}
"""Lower in the order, and yet of no concern to it."""


def modules() -> list[tuple[str, Path]]:
    """Every module with the name of its package (or its own, at the top)."""
    found = []
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if parts[0] not in ("__init__", "__main__"):
            found.append((parts[0], path))
    return found


def imported(path: Path) -> set[str]:
    """Names of imported modules, in full."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            if node.module == "voicelog":
                names |= {f"voicelog.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize(
    ("package", "path"), modules(), ids=lambda value: value if isinstance(value, str) else value.stem
)
def test_imports_go_one_way(package: str, path: Path) -> None:
    ours = {name.split(".")[1] for name in imported(path) if name.startswith("voicelog.")} - {"__version__"}
    allowed = set(ORDER[: ORDER.index(package) + 1]) | {package}
    if package in ALONE:
        allowed = {package}
    allowed -= MAY_NOT_OURS.get(package, set())

    assert ours <= allowed, (
        f"{path.name} of {package} imports {sorted(ours - allowed)}; allowed are {sorted(allowed)}"
    )
    foreign = {name.split(".")[0] for name in imported(path)} & MAY_NOT.get(package, set())
    assert not foreign, f"{path.name} of {package} may not import {sorted(foreign)}"


def test_every_package_has_a_place_in_the_order() -> None:
    assert {package for package, _ in modules()} <= set(ORDER)
