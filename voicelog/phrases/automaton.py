"""The word automaton: a linked grammar as one network of small fragments, a fragment a rule.

A rule is compiled once; a reference to it is a call arc. Four layers may be laid over one another by rule
name:

* *said*: the grammar proper, words as they are spoken;
* *written*: digit forms of numbers, built from single characters that are joined ("+1.25");
* *heard*: spellings a recogniser may choose for the same sounds ("won" for one);
* *typed*: what a line of text may hold and no recogniser is told of: free words, `ANY_WORD`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

from voicelog.phrases import nodes
from voicelog.phrases.errors import GrammarError
from voicelog.phrases.reducing import reduced
from voicelog.phrases.states import ANY_WORD, OTHER_WORD, Call, FragmentKey, Free, Layer, Over, State, Token
from voicelog.phrases.tags import Op, parse_tag

__all__ = [
    "ANY_WORD",
    "OTHER_WORD",
    "Automaton",
    "Call",
    "FragmentKey",
    "Layer",
    "LinkedRule",
    "State",
    "Token",
    "compile_rules",
]


@dataclass(frozen=True, slots=True)
class Automaton:
    """All states by number, and for each fragment its first and last state."""

    states: tuple[State, ...]
    fragments: Mapping[FragmentKey, tuple[int, int]]


@dataclass(frozen=True, slots=True)
class LinkedRule:
    """What stands for a rule, layer by layer, each with the file it came from."""

    name: str
    layers: Mapping[Layer, tuple[nodes.Rule, str]]

    @property
    def main(self) -> nodes.Rule:
        """The said form, or what there is."""
        return next(iter(self.layers.values()))[0]


def compile_rules(rules: Mapping[str, LinkedRule]) -> Automaton:
    """Compile linked rules. Raises GrammarError for a tag or a loop that cannot be used."""
    compiler = _Compiler(rules)
    for linked in rules.values():
        for layer in linked.layers:
            compiler.fragment(FragmentKey(linked.name, layer))
    return Automaton(*reduced(compiler.states, compiler.fragments))


class _Compiler:
    """Thompson's construction, fragment by fragment."""

    def __init__(self, rules: Mapping[str, LinkedRule]) -> None:
        self.states: list[State] = []
        self.fragments: dict[FragmentKey, tuple[int, int]] = {}
        self._rules = rules
        self._path = ""
        self._layer = Layer.SAID

    def fragment(self, key: FragmentKey) -> None:
        """Compile one fragment and those it calls."""
        if key in self.fragments:
            return
        before = len(self.states)
        first, last = self._state(), self._state()
        self.fragments[key] = first, last
        rule, self._path = self._rules[key.rule].layers[key.layer]
        self._layer = key.layer
        self._node(rule.node, first, last)
        own_states = range(before, len(self.states))
        if key.layer is Layer.WRITTEN:
            self._join_characters(first, own_states, key.joined)
        if key.layer is Layer.SAID:
            for layer in self._rules[key.rule].layers:
                if layer is not Layer.SAID:
                    self.states[first].add(Call(FragmentKey(key.rule, layer), last, framed=False))
        for number in own_states:
            for call in self.states[number].calls:
                self.fragment(call.fragment)

    def _join_characters(self, first: int, own_states: range, joined: bool) -> None:
        """In a written form every character but the first follows without a space."""
        opening = set() if joined else self._without_words(first)
        later = {
            arc.target
            for number in own_states
            for arc in self.states[number].arcs
            if not isinstance(arc, Free)
        }
        if any(self._without_words(state) & opening for state in later):
            raise GrammarError(
                self._path, 0, "a written form may not begin with something optional or repeated"
            )
        for number in own_states:
            if number not in opening:
                state = self.states[number]
                state.words = [Over(Token(arc.token.text, joined=True), arc.target) for arc in state.words]
                state.calls = [
                    call._replace(fragment=replace(call.fragment, joined=True)) for call in state.calls
                ]

    def _without_words(self, start: int) -> set[int]:
        reached, todo = {start}, [start]
        while todo:
            for arc in self.states[todo.pop()].free:
                if arc.target not in reached:
                    reached.add(arc.target)
                    todo.append(arc.target)
        return reached

    def _state(self) -> int:
        self.states.append(State())
        return len(self.states) - 1

    def _free(self, start: int, end: int, ops: tuple[Op, ...] = (), weight: float = 0.0) -> None:
        self.states[start].add(Free(end, ops, weight))

    def _node(self, node: nodes.Node, start: int, end: int) -> None:
        match node:
            case nodes.Word(text):
                self.states[start].add(Over(Token(text, joined=text.startswith("'")), end))
            case nodes.Ref(name):
                layers = self._rules[name].layers
                words = self._layer in (Layer.SAID, Layer.TYPED)  # not figures, nor other spellings
                layer = Layer.SAID if Layer.SAID in layers and words else self._layer
                self.states[start].add(Call(FragmentKey(name, layer), end, framed=True))
            case nodes.Void():
                pass
            case nodes.Sequence(items):
                self._sequence(items, start, end)
            case nodes.Choice(options):
                self._choice(options, start, end)
            case nodes.Repeat():
                self._repeat(node, start, end)
            case nodes.Tagged(inner, tags, line):
                middle = self._state()
                self._node(inner, start, middle)
                self._free(middle, end, self._operations(tags, line))

    def _sequence(self, items: Sequence[nodes.Node], start: int, end: int) -> None:
        for item in items[:-1]:
            middle = self._state()
            self._node(item, start, middle)
            start = middle
        if items:
            self._node(items[-1], start, end)
        else:
            self._free(start, end)

    def _choice(self, options: Sequence[tuple[float, nodes.Node]], start: int, end: int) -> None:
        total = sum(weight for weight, _ in options)
        opened: dict[float, int] = {}  # options of one weight share their first state
        for weight, option in options:
            if weight not in opened:
                opened[weight] = self._state()
                self._free(start, opened[weight], (), log(weight / total))
            self._node(option, opened[weight], end)

    def _repeat(self, node: nodes.Repeat, start: int, end: int) -> None:
        first = self._state()
        last = self._state() if node.unbounded else end
        self._free(start, first, (), 0.0 if node.least else log(0.5))
        self._node(node.node, first, last)
        if node.least == 0:
            self._free(start, end, (), log(0.5))
        if node.unbounded:
            self._free(last, end, (), log(0.5))
            self._free(last, first, (), log(0.5))
            if self._may_be_empty(node.node):
                raise GrammarError(self._path, 0, "a repeated item may be empty, so it would repeat for ever")

    def _may_be_empty(self, node: nodes.Node) -> bool:
        match node:
            case nodes.Sequence(items):
                return all(self._may_be_empty(item) for item in items)
            case nodes.Choice(options):
                return any(self._may_be_empty(option) for _, option in options)
            case nodes.Repeat(inner, least, _):
                return least == 0 or self._may_be_empty(inner)
            case nodes.Tagged(inner, _, _):
                return self._may_be_empty(inner)
            case nodes.Ref(name):
                return any(self._may_be_empty(rule.node) for rule, _ in self._rules[name].layers.values())
            case _:
                return False

    def _operations(self, tags: Sequence[str], line: int) -> tuple[Op, ...]:
        try:
            return tuple(op for tag in tags for op in parse_tag(tag))
        except ValueError as error:
            raise GrammarError(self._path, line, str(error)) from None
