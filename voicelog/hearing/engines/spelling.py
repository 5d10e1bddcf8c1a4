"""The grammar as pieces: which piece may come next, found only for the places the search gets to.

Every word has its usual spelling, small or with a capital; between words a comma, a full stop or a hyphen may be
written. A state is a set of places in the grammar, some within a word; states are numbered as they are met, and
each knows its allowed piece ids and where they lead as two arrays, so that the search masks with arrays.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.tokens import END, SPACE, Tokeniser
from voicelog.phrases.automaton import Token
from voicelog.phrases.walker import Position, Walker

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
_Leads = dict[int, list[tuple[_Place, Token | None]]]


@dataclass(frozen=True, slots=True)
class Arrows:
    """What may follow in a state: piece ids (n,) and the states they lead to (n,); END leads nowhere (-1)."""

    ids: npt.NDArray[np.int64]
    targets: npt.NDArray[np.int64]


class SpelledGrammar:
    """Piece-level states of one grammar rule, made as they are needed and kept."""

    START = 0

    def __init__(self, walker: Walker, tokeniser: Tokeniser) -> None:
        self._walker = walker
        self._tokeniser = tokeniser
        self._states: list[frozenset[_Place]] = [frozenset({_Between(frozenset({walker.start}), "start")})]
        self._numbers = {self._states[0]: 0}
        self._arrows: dict[int, Arrows] = {}
        self._known_leads: dict[_Place, _Leads] = {}
        self._marks = {mark: tokeniser.encode(mark)[0] for mark in _MARKS_BETWEEN}
        self._hyphen = tokeniser.encode("-")[0]
        self._endings = [tokeniser.encode(mark) for mark in _MARKS_AT_END]

    def arrows(self, state: int) -> Arrows:
        """The allowed pieces of a state."""
        if state not in self._arrows:
            self._arrows[state] = self._expand(self._states[state])
        return self._arrows[state]

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
                for target, token in self._leads(place).get(piece, ()):
                    on = words if token is None else {(*line, token) for line in words}
                    longer.setdefault(target, set()).update(on)
            lines = longer
        ended = {line for place, words in lines.items() if self._may_end(place) for line in words}
        return tuple(sorted(ended, key=str))

    def _expand(self, places: frozenset[_Place]) -> Arrows:
        leads: dict[int, set[_Place]] = {}
        for place in places:
            for piece, found in self._leads(place).items():
                leads.setdefault(piece, set()).update(target for target, _ in found)
        targets = {piece: self._number(_joined(found)) for piece, found in leads.items()}
        if any(self._may_end(place) for place in places):
            targets[END] = -1
        return Arrows(np.array(list(targets), np.int64), np.array(list(targets.values()), np.int64))

    def _may_end(self, place: _Place) -> bool:
        match place:
            case _Between(positions, after):
                return after == "word" and any(self._walker.may_end(position) for position in positions)
            case _Ending(rest):
                return not rest
            case _Within():
                return False

    def _leads(self, place: _Place) -> _Leads:
        """Where each piece leads from a place, and the word that begins with it."""
        if place not in self._known_leads:
            match place:
                case _Within(rest, positions):
                    after = _Within(rest[1:], positions) if rest[1:] else _Between(positions, "word")
                    found: _Leads = {rest[0]: [(after, None)]}
                case _Ending(rest):
                    found = {rest[0]: [(_Ending(rest[1:]), None)]} if rest else {}
                case _Between():
                    found = self._leads_between(place)
            self._known_leads[place] = found
        return self._known_leads[place]

    def _leads_between(self, place: _Between) -> _Leads:
        words: dict[Token, set[Position]] = {}
        for position in place.positions:
            for token, targets in self._walker.ways(position).targets.items():
                words.setdefault(token, set()).update(targets)
        leads: _Leads = {}
        for token, found in words.items():
            positions = frozenset(found)
            for ids in self._spellings(token, place.after):
                after = _Within(ids[1:], positions) if ids[1:] else _Between(positions, "word")
                leads.setdefault(ids[0], []).append((after, token))
        if place.after == "word":
            if any(not token.joined for token in words):
                for mark in self._marks.values():
                    leads.setdefault(mark, []).append((_Between(place.positions, "mark"), None))
            if any(not token.joined and token.text.isalpha() for token in words):
                leads.setdefault(self._hyphen, []).append((_Between(place.positions, "hyphen"), None))
            if self._may_end(place):
                for ids in self._endings:
                    leads.setdefault(ids[0], []).append((_Ending(ids[1:]), None))
        return leads

    def _spellings(self, token: Token, after: str) -> list[tuple[int, ...]]:
        encode = self._tokeniser.encode
        if token.joined:
            return [encode(token.text)] if after == "word" else []
        if after == "hyphen":
            return [encode(token.text)] if token.text.isalpha() else []
        spellings = {encode(SPACE + token.text), encode(SPACE + token.text.capitalize())}
        return sorted(spellings)


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
