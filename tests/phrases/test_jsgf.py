"""The grammar reader: JSGF as the W3C note of 2000 has it, and errors with file, line and reason."""

import gc
from pathlib import Path

import pytest

from voicelog.phrases import nodes
from voicelog.phrases.errors import GrammarError
from voicelog.phrases.grammar import load
from voicelog.phrases.jsgf import read_text
from voicelog.phrases.language import Language, language_in

HEAD = "#JSGF V1.0 UTF-8 en;\ngrammar t;\n"


def in_folder(folder: Path) -> Language:
    """A language whose grammar lies there."""
    (folder / "language.toml").write_text('code = "en"\n', encoding="utf-8")
    return language_in(folder)


def rule(text: str) -> nodes.Node:
    """The tree of one rule's right-hand side."""
    return read_text(f"{HEAD}<r> = {text};", Path("t.jsgf")).rules[0].node


def test_sequence_alternatives_and_weights() -> None:
    tree = rule("/3/ one two | /1/ three")

    assert tree == nodes.Choice(
        (
            (3.0, nodes.Sequence((nodes.Word("one"), nodes.Word("two")))),
            (1.0, nodes.Word("three")),
        )
    )


def test_grouping_optional_and_repeats() -> None:
    a, b = nodes.Word("a"), nodes.Word("b")

    assert rule("[a]") == nodes.Repeat(a, 0, unbounded=False)
    assert rule("a*") == nodes.Repeat(a, 0, unbounded=True)
    assert rule("a+") == nodes.Repeat(a, 1, unbounded=True)
    assert rule("(a | b)+") == nodes.Repeat(nodes.Choice(((1.0, a), (1.0, b))), 1, unbounded=True)


def test_tags_belong_to_the_item_before_them() -> None:
    tree = rule("a b {x=y} {+1}")

    assert isinstance(tree, nodes.Sequence)
    assert tree.items == (nodes.Word("a"), nodes.Tagged(nodes.Word("b"), ("x=y", "+1"), 3))


def test_special_rules_quotes_and_case() -> None:
    assert rule("<NULL>") == nodes.NULL
    assert rule("<VOID>") == nodes.Void()
    assert rule('"Say Again"') == nodes.Sequence((nodes.Word("say"), nodes.Word("again")))


def test_comments_are_nothing_and_documentation_is_kept() -> None:
    text = (
        HEAD + "// line\n/* block */\n/** Which eye.\n * @example right eye\n */\npublic <eye> = right eye;"
    )

    (eye,) = read_text(text, Path("t.jsgf")).rules

    assert (eye.public, eye.summary, eye.examples) == (True, "Which eye.", ("right eye",))


@pytest.mark.parametrize(
    ("text", "line", "reason"),
    [
        ("", 1, "the header"),
        ("grammar t;", 1, "the header"),
        (HEAD + "<a> = b\n<c> = d;", 4, "'='"),
        (HEAD + "<a> = (b;", 3, "')'"),
        (HEAD + "\n<a> = /0/ b;", 4, "above zero"),
        (HEAD + "<a> = b {x;", 3, "'{'"),
        (HEAD + '<a> = "";', 3, "can never be said"),
        (HEAD + "<a> = b", 3, "the end of the file"),
        (HEAD + "<a> = it's;", 3, "it's is read as two words; write it 's"),
    ],
)
def test_a_fault_is_named_with_file_line_and_reason(text: str, line: int, reason: str) -> None:
    with pytest.raises(GrammarError) as caught:
        read_text(text, Path("bad.jsgf"))

    assert str(caught.value).startswith(f"bad.jsgf:{line}: ")
    assert reason in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("rules", "reason"),
    [
        ("public <a> = <b>;", "<b> is neither defined nor imported"),
        ("public <a> = x <a>;", "<a> refers to itself"),
        ("<a> = <b>; <b> = y <a>;", "refers to itself"),
        ("<a> = x; <a> = y;", "already defined"),
        ("public <a> = x {y~1};", "is none of"),
        ("public <a> = x {y=};", "is none of"),
        ("public <a> = x {+one};", "not a number"),
        ("public <a> = [x]*;", "repeat for ever"),
        ("import <nothing.*>; public <a> = x;", "finds nothing"),
    ],
)
def test_a_folder_that_does_not_link_is_refused(tmp_path: Path, rules: str, reason: str) -> None:
    (tmp_path / "t.jsgf").write_text(HEAD + rules, encoding="utf-8")

    with pytest.raises(GrammarError, match=r"t\.jsgf") as caught:
        load(in_folder(tmp_path))

    assert reason in str(caught.value)
    assert gc.isenabled()


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    (tmp_path / "t.jsgf").write_bytes(b"\xff\xfe\x00")

    with pytest.raises(GrammarError, match=r"t\.jsgf:0: cannot be read"):
        load(in_folder(tmp_path))


def test_an_empty_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(GrammarError, match="holds no"):
        load(in_folder(tmp_path))
