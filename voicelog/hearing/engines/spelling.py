"""The grammar as pieces: which piece may come next, found only for the places the search gets to.

Every word has its usual spelling, small or with a capital; between words a comma, a full stop or a hyphen may be
written. A state is a set of places in the grammar, some within a word; states are numbered as they are met. Each knows
its allowed piece ids as an array, so that the search masks with arrays; where a piece leads is found when it is asked.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.tokens import END, SPACE, Tokeniser
from voicelog.phrases.automaton import Token
from voicelog.phrases.walker import Position, Walker, Ways

_MARKS_BETWEEN = (",", ".")
_MARKS_AT_END = (".", "!", "?", "...")


@dataclass(frozen=True, slots=True)
class _Between:
    """Between words: grammar positions, and how the text came here."""

    positions: frozenset[Position]
    after: str  # "start", "word", "mark" or "hyphen"


@dataclass(frozen=True, slots=True)
class _Within:
    """Within a word: the pieces still to come, and the grammar positions behind it."""

    rest: tuple[int, ...]
    positions: frozenset[Position]


@dataclass(frozen=True, slots=True)
class _Ending:
    """Closing marks only, then the end."""

    rest: tuple[int, ...]


_Place = _Between | _Within | _Ending
_Lead = tuple[_Place, Token | None]
_Starts = dict[int, list[tuple[tuple[int, ...], Token]]]


class SpelledGrammar:
    """Piece-level states of one grammar rule, made as they are needed and kept."""

    START = 0

    def __init__(self, walker: Walker, tokeniser: Tokeniser) -> None:
        self._walker = walker
        self._tokeniser = tokeniser
        self._states: list[frozenset[_Place]] = [frozenset({_Between(frozenset({walker.start}), "start")})]
        self._numbers = {self._states[0]: 0}
        self._ids: dict[int, npt.NDArray[np.int64]] = {}
        self._targets: dict[tuple[int, int], int] = {}
        self._known_leads: dict[tuple[_Place, int], tuple[_Lead, ...]] = {}
        self._parts: dict[frozenset[Position], tuple[Ways, ...]] = {}
        self._known_starts: dict[tuple[Ways, str], _Starts] = {}
        self._marks = {mark: tokeniser.encode(mark)[0] for mark in _MARKS_BETWEEN}
        self._hyphen = tokeniser.encode("-")[0]
        self._endings = [tokeniser.encode(mark) for mark in _MARKS_AT_END]

    def ids(self, state: int) -> npt.NDArray[np.int64]:
        """The pieces allowed in a state, shape (n,), in rising order; END is among them where a phrase may end."""
        if state not in self._ids:
            found = set().union(*(self._pieces(place) for place in self._states[state]))
            self._ids[state] = np.array(sorted(found), np.int64)
        return self._ids[state]

    def target(self, state: int, piece: int) -> int:
        """The state that an allowed piece leads to; END leads nowhere (-1)."""
        if piece == END:
            return -1
        if (state, piece) not in self._targets:
            found = {place for each in self._states[state] for place, _ in self._leads(each, piece)}
            self._targets[state, piece] = self._number(_joined(found))
        return self._targets[state, piece]

    @property
    def size(self) -> int:
        """How many states were met so far."""
        return len(self._states)

    def _number(self, places: frozenset[_Place]) -> int:
        if places not in self._numbers:
            self._numbers[places] = len(self._states)
            self._states.append(places)
        return self._numbers[places]

    def words(self, pieces: Sequence[int]) -> tuple[tuple[Token, ...], ...]:
        """The words that a whole phrase was spelled with, as the walk met them.

        Nearly always one line of words; more where different words are spelled alike.
        """
        (start,) = self._states[self.START]
        lines: dict[_Place, set[tuple[Token, ...]]] = {start: {()}}
        for piece in pieces:
            longer: dict[_Place, set[tuple[Token, ...]]] = {}
            for place, words in lines.items():
                for target, token in self._leads(place, piece):
                    on = words if token is None else {(*line, token) for line in words}
                    longer.setdefault(target, set()).update(on)
            lines = longer
        ended = {line for place, words in lines.items() if self._may_end(place) for line in words}
        return tuple(sorted(ended, key=str))

    def _may_end(self, place: _Place) -> bool:
        match place:
            case _Between(positions, after):
                return after == "word" and any(self._walker.may_end(position) for position in positions)
            case _Ending(rest):
                return not rest
            case _Within():
                return False

    def _pieces(self, place: _Place) -> Iterable[int]:
        """The pieces that may follow in one place."""
        match place:
            case _Within(rest):
                return rest[:1]
            case _Ending(rest):
                return rest[:1] or (END,)
            case _Between(positions, after):
                pieces = set().union(*(self._starts(part, after) for part in self._parts_of(positions)))
                return pieces | self._marks_after(place) | ({END} if self._may_end(place) else set())

    def _marks_after(self, place: _Between) -> set[int]:
        """The marks that may be written behind a word."""
        if place.after != "word":
            return set()
        words = [token for part in self._parts_of(place.positions) for token in part.own if not token.joined]
        marks = set(self._marks.values()) if words else set()
        if any(token.text.isalpha() for token in words):
            marks.add(self._hyphen)
        return marks | ({ids[0] for ids in self._endings} if self._may_end(place) else set())

    def _leads(self, place: _Place, piece: int) -> tuple[_Lead, ...]:
        """Where a piece leads from a place, and the word that begins with it."""
        key = (place, piece)
        if key not in self._known_leads:
            match place:
                case _Within(rest, positions):
                    self._known_leads[key] = ((_behind(rest, positions), None),) if rest[0] == piece else ()
                case _Ending(rest):
                    self._known_leads[key] = ((_Ending(rest[1:]), None),) if rest[:1] == (piece,) else ()
                case _Between():
                    self._known_leads[key] = tuple(self._leads_between(place, piece))
        return self._known_leads[key]

    def _leads_between(self, place: _Between, piece: int) -> Iterator[_Lead]:
        words: dict[tuple[tuple[int, ...], Token], set[Position]] = {}
        for part in self._parts_of(place.positions):
            for ids, token in self._starts(part, place.after).get(piece, ()):
                words.setdefault((ids, token), set()).update(step.target for step in part.own[token])
        for (ids, token), targets in words.items():
            yield _behind(ids, frozenset(targets)), token
        if piece in self._marks_after(place):
            if piece in self._marks.values():
                yield _Between(place.positions, "mark"), None
            if piece == self._hyphen:
                yield _Between(place.positions, "hyphen"), None
            if self._may_end(place):
                yield from ((_Ending(ids[1:]), None) for ids in self._endings if ids[0] == piece)

    def _parts_of(self, positions: frozenset[Position]) -> tuple[Ways, ...]:
        """All that may follow at these positions; what they share is there once."""
        if positions not in self._parts:
            ways = (self._walker.ways(position) for position in sorted(positions))
            self._parts[positions] = tuple(dict.fromkeys(part for each in ways for part in each.parts))
        return self._parts[positions]

    def _starts(self, part: Ways, after: str) -> _Starts:
        """The spellings of a part's own words, by their first piece."""
        key = (part, after)
        if key not in self._known_starts:
            starts: _Starts = {}
            for token in part.own:
                for ids in self._spellings(token, after):
                    starts.setdefault(ids[0], []).append((ids, token))
            self._known_starts[key] = starts
        return self._known_starts[key]

    def _spellings(self, token: Token, after: str) -> list[tuple[int, ...]]:
        encode = self._tokeniser.encode
        if token.joined:
            return [encode(token.text)] if after == "word" else []
        if after == "hyphen":
            return [encode(token.text)] if token.text.isalpha() else []
        spellings = {encode(SPACE + token.text), encode(SPACE + token.text.capitalize())}
        return sorted(spellings)


def _behind(ids: tuple[int, ...], positions: frozenset[Position]) -> _Place:
    """The place behind the first piece of a word's spelling."""
    return _Within(ids[1:], positions) if ids[1:] else _Between(positions, "word")


def _joined(places: set[_Place]) -> frozenset[_Place]:
    """Places between words that came the same way are one place with the positions of all."""
    between: dict[str, set[Position]] = {}
    others: set[_Place] = set()
    for place in places:
        if isinstance(place, _Between):
            between.setdefault(place.after, set()).update(place.positions)
        else:
            others.add(place)
    return frozenset(others | {_Between(frozenset(found), after) for after, found in between.items()})
