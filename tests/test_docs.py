"""The documents say what is so."""

import re
import subprocess
from pathlib import Path

import pytest

from tests.english import load
from voicelog.cli import COMMANDS
from voicelog.exam.expecting import ANSWER, IN_HAND, LINE
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def commands(text: str) -> list[str]:
    """The shell blocks of a document."""
    return [block.strip() for block in re.findall(r"```sh\n(.*?)```", text, re.DOTALL)]


def test_ci_runs_the_readme_test_command_word_for_word() -> None:
    test_command = next(command for command in commands(README) if "-m pytest" in command)

    assert test_command in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_command_is_in_the_readme() -> None:
    assert COMMANDS
    for name in COMMANDS:
        assert f"voicelog {name}" in README, f"README does not show `voicelog {name}`"


def sayings() -> list[str]:
    """The phrases of the README's table of what to say."""
    table = README.split("| to | say |")[1].split("\n\n")[0]
    cells = [line.split("|")[2] for line in table.splitlines() if line.startswith("| ") and "---" not in line]
    return [phrase.strip() for cell in cells for phrase in cell.split("·")]


@pytest.mark.parametrize("phrase", sayings())
def test_what_the_readme_says_can_be_said(phrase: str) -> None:
    assert (
        LineReader(load(), f"{LINE} {IN_HAND} {ANSWER} answers_sign", Layer.WRITTEN)
        .understand(phrase)
        .readings
    )


def test_links_lead_somewhere() -> None:
    for document in [*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("models/*.md")]:
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", document.read_text(encoding="utf-8")):
            assert (document.parent / target).exists(), f"{document.name}: {target}"


def tracked() -> list[Path]:
    """The files that git tracks; all files where there is no git."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if done.returncode == 0 and done.stdout:
        return [ROOT / name for name in done.stdout.decode().split("\0") if name]
    return [path for path in ROOT.rglob("*") if path.is_file() and ".venv" not in path.parts]


def test_no_registry_address_and_no_path_of_one_machine_is_committed() -> None:
    forbidden = re.compile(
        "|".join(
            ("files" + r"\.pythonhosted", "/si" + "mple/", "/wo" + "rk/", "/ro" + "ot/", "index" + "-url")
        )
    )
    for path in tracked():
        if path.suffix in (".py", ".md", ".toml", ".txt", ".jsgf", ".sh", ".tsv", "") and path.is_file():
            found = forbidden.search(path.read_text(encoding="utf-8", errors="replace"))
            assert found is None, f"{path.relative_to(ROOT)}: {found}"
