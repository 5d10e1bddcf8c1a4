"""What a walker says of a place, word by word, is what the automaton says when all ways there are written down."""

from collections import Counter
from collections.abc import Iterator
from random import Random

from tests.english import load
from voicelog.phrases.automaton import FragmentKey, Layer, State, Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.tags import Close, Op, Open
from voicelog.phrases.walker import Position, Step, Walker

_RULE = "line"
_Place = tuple[int, tuple[tuple[int, tuple[Op, ...], bool], ...]]
"""A state, and for each rule around it where to go on, what is done there, and whether it has a frame."""
_Way = tuple[tuple[Op, ...], float, Token | None]


def _written_down(states: tuple[State, ...], grammar: Grammar, place: _Place) -> Iterator[_Way]:
    """All ways from a place over one word, or to the end (None), found by going them."""
    last = {each for _, each in grammar.automaton.fragments.values()}
    todo: list[tuple[_Place, tuple[Op, ...], float]] = [(place, (), 0.0)]
    while todo:
        (number, around), ops, weight = todo.pop()
        state = states[number]
        for over in state.words:
            yield ops + over.ops, weight + over.log_weight, over.token
        for free in state.free:
            todo.append(((free.target, around), ops + free.ops, weight + free.log_weight))
        for call in state.calls:
            if call.fragment.layer is Layer.SAID:
                first, _ = grammar.automaton.fragments[call.fragment]
                opened = (Open(call.fragment.rule),) if call.framed else ()
                inside = (first, (*around, (call.target, call.ops, call.framed)))
                todo.append((inside, ops + opened, weight + call.log_weight))
        if number in last:
            if not around:
                yield (*ops, Close()), weight, None
                continue
            *outer, (target, behind, framed) = around
            closed = (Close(),) if framed else ()
            todo.append(((target, tuple(outer)), ops + closed + behind, weight))


def _place_of(walker: Walker, position: Position) -> _Place:
    calls = [walker._calls[number] for number in position.returns]
    return position.state, tuple((call.target, call.ops, call.framed) for call in calls)


def _counted(ways: Iterator[_Way] | list[_Way]) -> Counter[tuple[tuple[Op, ...], float]]:
    return Counter((ops, round(weight, 9)) for ops, weight, _ in ways)


def _as_ways(steps: tuple[Step, ...], token: Token | None) -> list[_Way]:
    return [(step.ops, step.log_weight, token) for step in steps]


def test_every_way_is_there_once_for_each_word_and_to_the_end() -> None:
    grammar, random = load(), Random(4)
    walker = Walker(grammar.automaton, _RULE, frozenset())
    first, _ = grammar.automaton.fragments[FragmentKey(_RULE, Layer.SAID)]
    compared = 0
    for _ in range(12):
        position = walker.start
        for _ in range(7):
            if position == walker.start:
                written = [
                    ((Open(_RULE), *ops), weight, token)
                    for ops, weight, token in _written_down(grammar.automaton.states, grammar, (first, ()))
                ]
            else:
                place = _place_of(walker, position)
                written = list(_written_down(grammar.automaton.states, grammar, place))
            ways = walker.ways(position)
            by_word: dict[Token, list[_Way]] = {}
            for way in written:
                if way[2] is not None:
                    by_word.setdefault(way[2], []).append(way)

            assert ways.by_token.keys() == by_word.keys()
            assert _counted(_as_ways(ways.to_end, None)) == _counted(
                [way for way in written if way[2] is None]
            )
            for token in random.sample(sorted(by_word), min(40, len(by_word))):
                assert _counted(_as_ways(ways.over(token), token)) == _counted(by_word[token]), token
                compared += 1
            assert ways.over(Token("nowhere")) == ()
            if not by_word:
                break
            position = random.choice(ways.over(random.choice(sorted(by_word)))).target
    assert compared > 1000
