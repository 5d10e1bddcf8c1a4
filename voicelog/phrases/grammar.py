"""A grammar folder, read, linked and checked: the one source of what may be said."""

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from voicelog.phrases import nodes
from voicelog.phrases.automaton import Automaton, Layer, LinkedRule, compile_rules
from voicelog.phrases.errors import GrammarError, UnknownRuleError
from voicelog.phrases.jsgf import read_file
from voicelog.phrases.language import Language, language_named
from voicelog.phrases.walker import Walker

LINE_RULE = "line"
_PIECES = "pieces"
WHOLE_LINES = (LINE_RULE, "in_hand")
ENTRY_RULE = "entry"
"""What may be said when nothing is asked: where a grammar has rules for whole lines, these."""
_WHEN_NOTHING_IS_ASKED = (*WHOLE_LINES, "lone_answer")
_LAYER_OF_NAME = {"written": Layer.WRITTEN, "heard": Layer.HEARD, "typed": Layer.TYPED}


@dataclass(frozen=True, eq=False)
class Grammar:
    """Linked rules by name, and the one automaton made of them. Compared by identity."""

    language: Language
    rules: Mapping[str, LinkedRule]
    automaton: Automaton

    def named(self, rule: str) -> tuple[str, ...]:
        """The rules meant by a name, or by several with a space between.

        Of several, those count that it has: a language need not have every answer and every finding. One that has no
        rule for whole lines offers its entries instead.
        """
        names = tuple(rule.split()) or (rule,)
        if LINE_RULE in self.rules and names == (ENTRY_RULE,):
            names = _WHEN_NOTHING_IS_ASKED
        elif LINE_RULE not in self.rules:
            names = tuple(ENTRY_RULE if name == LINE_RULE else name for name in names)
        return tuple(name for name in names if name in self.rules) or names

    def walker(self, rule: str = ENTRY_RULE, *layers: Layer) -> Walker:
        """A walker over `rule` through the said layer and the further `layers`; made once and kept.

        Several rules, with a space between, are walked at once. Raises UnknownRuleError when the grammar has no such
        rule to be said.
        """
        rule = " ".join(self.named(rule))
        for name in rule.split():
            linked = self.rules.get(name)
            if linked is None or Layer.SAID not in linked.layers:
                public = ", ".join(sorted(name for name, each in self.rules.items() if each.main.public))
                raise UnknownRuleError(f"the grammar has no rule named {name!r}; it offers {public}")
        return _walker(self, rule, frozenset(layers))


@cache
def _walker(grammar: Grammar, rule: str, layers: frozenset[Layer]) -> Walker:
    return Walker(grammar.automaton, rule, layers)


@cache
def load(language: Language) -> Grammar:
    """Read, link and check every `*.jsgf` in the folder of a language.

    Raises GrammarError with file, line and reason.
    """
    paths = sorted(language.folder.glob("*.jsgf"))
    if not paths:
        raise GrammarError(language.folder, 0, "holds no *.jsgf file")
    return _made_of(language, paths)


@cache
def load_pieces(language: Language) -> Grammar | None:
    """The pieces that a typed line may be put together of, in the folder `pieces`; None where a language has none.

    A network of its own, which no recogniser walks. Raises GrammarError with file, line and reason.
    """
    paths = sorted((language.folder / _PIECES).glob("*.jsgf"))
    return _made_of(language, paths) if paths else None


def _made_of(language: Language, paths: Sequence[Path]) -> Grammar:
    with _all_kept():
        rules = _link([read_file(path) for path in paths])
        _refuse_recursion(rules)
        return Grammar(language, rules, compile_rules(rules))


@contextmanager
def _all_kept() -> Iterator[None]:
    """Nobody looks for garbage meanwhile: of the many small parts none is, and looking took a fifth of the time."""
    looked = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if looked:
            gc.enable()


def load_named(name: str) -> Grammar:
    """The grammar of the language that a setting names. Raises GrammarError."""
    return load(language_named(name))


def _link(grammar_files: list[nodes.GrammarFile]) -> dict[str, LinkedRule]:
    found: dict[str, dict[Layer, tuple[nodes.Rule, str]]] = {}
    for file in grammar_files:
        layer = _LAYER_OF_NAME.get(file.name, Layer.SAID)
        for rule in file.rules:
            layers = found.setdefault(rule.name, {})
            if layer in layers:
                raise GrammarError(file.path, rule.line, f"rule <{rule.name}> is already defined")
            layers[layer] = (rule, file.path)
    order = list(Layer)
    rules = {
        name: LinkedRule(name, dict(sorted(layers.items(), key=lambda item: order.index(item[0]))))
        for name, layers in found.items()
    }
    _check_references(grammar_files)
    return rules


def _check_references(grammar_files: list[nodes.GrammarFile]) -> None:
    by_name = {file.name: {rule.name for rule in file.rules} for file in grammar_files}
    for file in grammar_files:
        visible = set(by_name[file.name])
        for imported in file.imports:
            grammar, _, rule = imported.name.rpartition(".")
            if grammar not in by_name or (rule != "*" and rule not in by_name[grammar]):
                raise GrammarError(file.path, imported.line, f"import <{imported.name}> finds nothing")
            visible |= by_name[grammar] if rule == "*" else {rule}
        for definition in file.rules:
            for ref in references(definition.node):
                if ref.name not in visible:
                    raise GrammarError(
                        file.path, ref.line, f"<{ref.name}> is neither defined nor imported here"
                    )


def references(node: nodes.Node) -> Iterator[nodes.Ref]:
    """Every reference inside a node."""
    match node:
        case nodes.Ref():
            yield node
        case nodes.Sequence(items):
            for item in items:
                yield from references(item)
        case nodes.Choice(options):
            for _, option in options:
                yield from references(option)
        case nodes.Repeat(inner, _, _) | nodes.Tagged(inner, _, _):
            yield from references(inner)
        case _:
            return


def _refuse_recursion(rules: Mapping[str, LinkedRule]) -> None:
    done: set[str] = set()

    def visit(name: str, above: tuple[str, ...]) -> None:
        if name in done:
            return
        linked = rules[name]
        for rule, path in linked.layers.values():
            for ref in references(rule.node):
                if ref.name in (*above, name):
                    raise GrammarError(
                        path, ref.line, f"<{ref.name}> refers to itself; repeat with * or + instead"
                    )
                visit(ref.name, (*above, name))
        done.add(name)

    for name in rules:
        visit(name, ())
