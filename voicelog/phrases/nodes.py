"""The syntax tree of a grammar, as read: small frozen nodes, one a construct of JSGF."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Word:
    """One word to be said (or, in a written layer, one character to be typed)."""

    text: str


@dataclass(frozen=True, slots=True)
class Ref:
    """A reference to another rule, `<name>` or `<grammar.name>`."""

    name: str
    line: int


@dataclass(frozen=True, slots=True)
class Sequence:
    """Items said one after the other; no items is `<NULL>`."""

    items: tuple["Node", ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """Alternatives with their weights (relative likelihoods, 1 where none is written)."""

    options: tuple[tuple[float, "Node"], ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """`[x]` is 0..1, `x*` is 0..many, `x+` is 1..many."""

    node: "Node"
    least: int
    unbounded: bool


@dataclass(frozen=True, slots=True)
class Void:
    """`<VOID>`: can never be said."""


@dataclass(frozen=True, slots=True)
class Tagged:
    """An item with the semantic tags that stand behind it."""

    node: "Node"
    tags: tuple[str, ...]
    line: int


Node = Word | Ref | Sequence | Choice | Repeat | Void | Tagged

NULL = Sequence(())


@dataclass(frozen=True, slots=True)
class Rule:
    """A named rule; `examples` come from `@example` lines of its documentation comment.

    `foremost`, from a line `@foremost 3` there: its place among what everyone needs first; 0 for all else.
    """

    name: str
    node: Node
    public: bool
    line: int
    summary: str = ""
    examples: tuple[str, ...] = field(default=())
    foremost: int = 0


@dataclass(frozen=True, slots=True)
class GrammarFile:
    """One file as read: its name, its imports and its rules, not yet linked."""

    path: str
    name: str
    imports: tuple[Ref, ...]
    rules: tuple[Rule, ...]
