"""Reads the JSpeech Grammar Format.

Source of the syntax: "JSpeech Grammar Format", W3C Note, 5 June 2000: header, grammar name,
imports, rules, sequences, alternatives with weights, grouping, optional grouping, `*`, `+`,
tags, `<NULL>`, `<VOID>`, comments, and documentation comments with `@example`.
Refused: recursion (an automaton has no stack), which the note allows at the right end only.
"""

import re
import unicodedata
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, cast

from lark import Lark, Token, Transformer, v_args
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from voicelog.phrases.errors import GrammarError
from voicelog.phrases.nodes import (
    NULL,
    Choice,
    GrammarFile,
    Node,
    Ref,
    Repeat,
    Rule,
    Sequence,
    Tagged,
    Void,
    Word,
)

_SYNTAX = r"""
start: HEADER "grammar" NAME ";" import_* rule*
import_: "import" REF ";"
rule: DOC? [PUBLIC] REF "=" alternatives ";"
alternatives: weighted ("|" weighted)*
weighted: [WEIGHT] sequence
sequence: item+
item: atom REPEAT? TAG*
?atom: NAME -> word
    | QUOTED -> quoted
    | REF -> ref
    | "(" alternatives ")" -> group
    | "[" alternatives "]" -> optional

PUBLIC.2: "public"
HEADER: /#JSGF[ \t]+V1\.0[^;\n]*;/
REF: /<[^<>\s;=|+(){}\[\]]+>/
NAME: /[^\s;=|*+<>(){}\[\]\/"\\#]+/
QUOTED: /"(\\.|[^"\\\n])*"/
WEIGHT: /\/[ \t]*[0-9.eE+-]+[ \t]*\//
REPEAT: /[*+]/
TAG: /\{(\\.|[^{}\\])*\}/
DOC: /\/\*\*(.|\n)*?\*\//
COMMENT: /\/\/[^\n]*/ | /\/\*(?!\*)(.|\n)*?\*\//
%import common.WS
%ignore WS
%ignore COMMENT
"""

_WHAT_TOKENS_ARE = {
    "HEADER": "the header '#JSGF V1.0;'", "NAME": "a word", "REF": "a <rule name>", "SEMICOLON": "';'",
    "EQUAL": "'='", "VBAR": "'|'", "RPAR": "')'", "RSQB": "']'", "GRAMMAR": "'grammar'", "$END": "the end",
}  # fmt: skip


class _Refused(Exception):
    """A line that is JSGF but means nothing."""

    def __init__(self, token: Token, reason: str) -> None:
        super().__init__(reason)
        self.line = token.line or 0
        self.reason = reason


class _Read(NamedTuple):
    """What a file holds."""

    name: str
    imports: tuple[Ref, ...]
    rules: tuple[Rule, ...]


@v_args(inline=True)
class _Builder(Transformer[Token, Any]):
    """Turns the parse into nodes while it is read; every check that needs a line number is made here."""

    def start(self, _header: Token, name: Token, *rest: Any) -> _Read:
        imports = tuple(item for item in rest if isinstance(item, Ref))
        rules = tuple(item for item in rest if isinstance(item, Rule))
        return _Read(str(name), imports, rules)

    def import_(self, ref: Token) -> Ref:
        return Ref(ref[1:-1], ref.line or 0)

    def rule(self, *parts: Any) -> Rule:
        *front, ref, node = parts
        summary: str = ""
        examples: tuple[str, ...] = ()
        foremost = 0
        for part in front:
            if isinstance(part, Token) and part.type == "DOC":
                summary, examples, foremost = _documentation(part)
        public = any(isinstance(part, Token) and part.type == "PUBLIC" for part in front)
        return Rule(ref[1:-1], node, public, ref.line, summary, examples, foremost)

    def alternatives(self, *options: tuple[float, Node]) -> Node:
        if len(options) == 1 and options[0][0] == 1.0:
            return options[0][1]
        return Choice(options)

    def weighted(self, weight: Token | None, sequence: Node) -> tuple[float, Node]:
        if weight is None:
            return 1.0, sequence
        try:
            value = float(weight.strip("/ \t"))
        except ValueError:
            raise _Refused(weight, f"weight {weight} is not a number") from None
        if not 0.0 < value < float("inf"):
            raise _Refused(weight, f"weight {weight} must be above zero")
        return value, sequence

    def sequence(self, *items: Node) -> Node:
        return items[0] if len(items) == 1 else Sequence(items)

    def item(self, atom: Node, *marks: Token) -> Node:
        node = atom
        tags = tuple(str(mark[1:-1]).strip() for mark in marks if mark.type == "TAG")
        for mark in marks:
            if mark.type == "REPEAT":
                node = Repeat(node, 0 if mark == "*" else 1, True)
        return Tagged(node, tags, marks[-1].line or 0) if tags else node

    def word(self, name: Token) -> Node:
        word = str(name).lower()
        before, mark, after = word.partition("'")
        if before and mark and word != "o'clock":  # the one such word that is read whole
            apart = f"{before} '{after}"
            raise _Refused(name, f"{word} is read as two words; write {apart}")
        return Word(word)

    def quoted(self, text: Token) -> Node:
        words = re.sub(r"\\(.)", r"\1", text[1:-1]).lower().split()
        if not words:
            raise _Refused(text, "an empty quoted word can never be said")
        return Word(words[0]) if len(words) == 1 else Sequence(tuple(Word(word) for word in words))

    def ref(self, name: Token) -> Node:
        special: dict[str, Node] = {"<NULL>": NULL, "<VOID>": Void()}
        return special.get(str(name), Ref(name[1:-1], name.line or 0))

    def group(self, node: Node) -> Node:
        return node

    def optional(self, node: Node) -> Node:
        return Repeat(node, 0, False)


def _documentation(comment: str) -> tuple[str, tuple[str, ...], int]:
    lines = [line.strip().lstrip("*").strip() for line in comment[3:-2].splitlines()]
    examples = tuple(line.removeprefix("@example").strip() for line in lines if line.startswith("@example"))
    summary = " ".join(line for line in lines if line and not line.startswith("@"))
    places = [int(line.split()[1]) for line in lines if re.fullmatch(r"@foremost\s+\d+", line)]
    return summary, examples, places[0] if places else 0


@cache
def _parser() -> Lark:
    # The builder is part of it: a tree first, and then what is made of it, took twice the time.
    return Lark(_SYNTAX, parser="lalr", maybe_placeholders=True, transformer=_Builder())


def read_file(path: Path) -> GrammarFile:
    """Read one grammar file.

    Raises GrammarError with file, line and reason when it cannot be read or is not JSGF.
    """
    try:
        text = unicodedata.normalize("NFC", path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise GrammarError(path, 0, f"cannot be read: {error}") from None
    return read_text(text, path)


def read_text(text: str, path: Path) -> GrammarFile:
    """Read grammar text; `path` is what error messages name."""
    try:
        read = cast(_Read, _parser().parse(text))  # lark names the tree that it would make else
    except _Refused as error:
        raise GrammarError(path, error.line, error.reason) from None
    except UnexpectedInput as error:
        raise GrammarError(path, max(error.line, 0) or text.count("\n") + 1, _reason(error)) from None
    return GrammarFile(str(path), *read)


def _reason(error: UnexpectedInput) -> str:
    if isinstance(error, UnexpectedToken):
        expected = sorted(_WHAT_TOKENS_ARE[name] for name in error.expected if name in _WHAT_TOKENS_ARE)
        found = "the end of the file" if error.token.type == "$END" else repr(str(error.token))
        return f"{found} is not expected here" + (f"; {', '.join(expected)} would be" if expected else "")
    if isinstance(error, UnexpectedCharacters):
        return f"character {error.char!r} is not expected here"
    return "the text ends too early"
