"""The word automaton: a linked grammar as one network of small fragments, a fragment a rule.

A rule is compiled once; a reference to it is a call arc. Three layers may be laid over one another by rule
name:

* *said*: the grammar proper, words as they are spoken;
* *written*: digit forms of numbers, built from single characters that are joined ("+1.25");
* *heard*: spellings a recogniser may choose for the same sounds ("won" for one).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from math import log

from voicelog.phrases import nodes
from voicelog.phrases.errors import GrammarError
from voicelog.phrases.tags import Op, parse_tag


class Layer(StrEnum):
    """Where a rule's text comes from."""

    SAID = "said"
    WRITTEN = "written"
    HEARD = "heard"


@dataclass(frozen=True, slots=True)
class Token:
    """One word of a line; `joined` when no space stands before it (the 2 in "+2")."""

    text: str
    joined: bool = False


@dataclass(frozen=True, slots=True)
class FragmentKey:
    """A rule in one layer; `joined` when it continues a number already begun."""

    rule: str
    layer: Layer
    joined: bool = False


@dataclass(frozen=True, slots=True)
class Call:
    """A reference: walk `fragment`, then go on at `after`.

    With `framed` the fragment's tags have a frame of their own; without, it is another way to say the same rule.
    """

    fragment: FragmentKey
    after: int
    framed: bool
    log_weight: float = 0.0


@dataclass(slots=True)
class State:
    """Word arcs, free arcs with operations and a log weight (base e), and calls."""

    words: list[tuple[Token, int]] = field(default_factory=list)
    free: list[tuple[tuple[Op, ...], float, int]] = field(default_factory=list)
    calls: list[Call] = field(default_factory=list)


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
    return Automaton(tuple(compiler.states), compiler.fragments)


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
                    self.states[first].calls.append(Call(FragmentKey(key.rule, layer), last, framed=False))
        for number in own_states:
            for call in self.states[number].calls:
                self.fragment(call.fragment)

    def _join_characters(self, first: int, own_states: range, joined: bool) -> None:
        """In a written form every character but the first follows without a space."""
        opening = set() if joined else self._without_words(first)
        later = {target for number in own_states for _, target in self.states[number].words}
        later |= {call.after for number in own_states for call in self.states[number].calls}
        if any(self._without_words(state) & opening for state in later):
            raise GrammarError(
                self._path, 0, "a written form may not begin with something optional or repeated"
            )
        for number in own_states:
            if number not in opening:
                state = self.states[number]
                state.words = [(Token(token.text, joined=True), target) for token, target in state.words]
                state.calls = [
                    Call(FragmentKey(call.fragment.rule, call.fragment.layer, True), call.after, call.framed)
                    for call in state.calls
                ]

    def _without_words(self, start: int) -> set[int]:
        reached, todo = {start}, [start]
        while todo:
            for _, _, target in self.states[todo.pop()].free:
                if target not in reached:
                    reached.add(target)
                    todo.append(target)
        return reached

    def _state(self) -> int:
        self.states.append(State())
        return len(self.states) - 1

    def _free(self, start: int, end: int, ops: tuple[Op, ...] = (), weight: float = 0.0) -> None:
        self.states[start].free.append((ops, weight, end))

    def _node(self, node: nodes.Node, start: int, end: int) -> None:
        match node:
            case nodes.Word(text):
                self.states[start].words.append((Token(text), end))
            case nodes.Ref(name):
                layers = self._rules[name].layers
                layer = Layer.SAID if Layer.SAID in layers and self._layer is Layer.SAID else self._layer
                self.states[start].calls.append(Call(FragmentKey(name, layer), end, framed=True))
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
        for weight, option in options:
            first = self._state()
            self._free(start, first, (), log(weight / total))
            self._node(option, first, end)

    def _repeat(self, node: nodes.Repeat, start: int, end: int) -> None:
        first, last = self._state(), self._state()
        self._free(start, first, (), 0.0 if node.least else log(0.5))
        self._node(node.node, first, last)
        self._free(last, end, (), log(0.5) if node.unbounded else 0.0)
        if node.least == 0:
            self._free(start, end, (), log(0.5))
        if node.unbounded:
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
