"""Every command in the documents is one that the program takes, and those that only look are run."""

import itertools
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.test_docs import README, ROOT
from voicelog.cli import main, parsed
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel, random_refraction
from voicelog.practice.lesson import Lesson
from voicelog.settings import Settings

DOCUMENTS = (*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("models/*.md"))
STANDS_FOR = {"N": "1", "DAY": "2026-03-02", "YYYY-MM-DD": "2026-03-02", "NUMBER": "1"}
"""What is put for a word in capitals; any other stands for itself."""
LOOKING = (
    *("phrases", "phrases --sample 20", "settings", "practice --progress", "models list", "record list"),
    *("solve --reading 90=+3.00 --reading 180=+1.50 --distance 67", "completion bash", "record verify"),
)
"""Commands of the documents that change nothing and need no microphone."""


def written() -> dict[str, str]:
    """Every command in the documents, with the document it stands in."""
    found: dict[str, str] = {}
    for path in DOCUMENTS:
        text = path.read_text(encoding="utf-8")
        quoted = [" ".join(each.split()) for each in re.findall(r"`(voicelog [^`]+)`", text)]
        shown = re.findall(r"^(?: {4}|.*&& \.venv/bin/)?(voicelog .*)$", _shown(text), re.MULTILINE)
        for command in (*quoted, *shown):
            found.setdefault(re.sub(r"\s+#.*", "", command.replace("\\|", "|")), path.name)
    return found


def _shown(text: str) -> str:
    """What stands in blocks of code."""
    fenced = re.findall(r"^```\w*\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    return "\n".join([*fenced, *re.findall(r"^ {4}\S.*$", text, re.MULTILINE)])


def forms(command: str) -> Iterator[list[str]]:
    """The arguments of a command as it is written, with and without what stands in brackets, each alternative."""
    groups = re.findall(r"\[([^]]*)\]", command)
    bare = re.sub(r"\[[^]]*\]", " ", command)
    yield from _alternatives(bare)
    for group in groups:
        for one in group.split(" | "):
            yield from _alternatives(f"{bare} {one}")


def _alternatives(command: str) -> Iterator[list[str]]:
    words = [word.removesuffix("...") for word in shlex.split(command)[1:]]
    choices = [word.split("|") for word in words if word]
    for chosen in itertools.product(*choices):
        yield [STANDS_FOR.get(word, "high" if word == "NAME" else word) for word in chosen]


@pytest.mark.parametrize("command", sorted(written()))
def test_every_command_that_is_written_is_taken(command: str) -> None:
    for arguments in forms(command):
        parsed(arguments)


def test_a_command_that_is_none_is_found(capsys: pytest.CaptureFixture[str]) -> None:
    """The check can fail: an option that is not, a command that is not; and there is much to check."""
    for wrong in ("voicelog demo [--loud]", "voicelog dream", "voicelog exam --read-back auto|always"):
        *_, last = forms(wrong)
        with pytest.raises(SystemExit):
            parsed(last)
    assert capsys.readouterr().err
    assert len(written()) > 50
    assert {Path(name).suffix for name in written().values()} == {".md"}


@pytest.mark.parametrize("command", LOOKING)
def test_commands_that_only_look_are_run(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert any(f"voicelog {command}" in each for each in written()), "it stands in no document"
    assert main(command.split()) == 0
    out, err = capsys.readouterr()
    assert out
    assert "Traceback" not in out + err


def test_the_lesson_in_the_readme_is_what_is_seen() -> None:
    """Every line of it typed on the same eye."""
    block = next(each for each in re.findall(r"```text\n(.*?)```", README, re.DOTALL) if "> done" in each)
    lesson = Lesson(Exercise(EyeModel(random_refraction(45)), 45), Settings())
    told: list[str] = []
    for line in re.findall(r"^> (.*)$", block, re.MULTILINE):
        answer = lesson.type_line(line)
        told += [f"> {line}", *([f"  {answer.seen}"] if answer.seen else [])]

    assert told == block.strip().splitlines()
    assert lesson.ended
