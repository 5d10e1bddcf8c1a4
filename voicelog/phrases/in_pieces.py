"""What a typed line says by its pieces: put in order, by a frame, or for the most part.

Only where it is no phrase as it stands: the pieces of a language take a moment to load. A language without any has
none of this.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property, lru_cache

from voicelog.phrases import meanings as say
from voicelog.phrases.arranged import Arranged, Arranger
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.clause import Clauses
from voicelog.phrases.frames import Framed, Frames
from voicelog.phrases.grammar import Grammar, load_pieces
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.matcher import Meanings, tokenise, written
from voicelog.phrases.strength import is_of_eyes
from voicelog.phrases.word_sets import WordSets

_MOST_OF_EYE = 3
"""Words that name an eye before what is said of it."""


class LineInPieces:
    """Reads lines of rules by the pieces of their grammar's language; none where `typed` is not so."""

    def __init__(
        self, grammar: Grammar, rules: RulesInOrder, sets: WordSets, *layers: Layer, typed: bool
    ) -> None:
        self._grammar, self._layers, self._language = grammar, layers, grammar.language
        self._rules = rules
        self._sets = sets
        self._typed = typed
        # A refused line asks for each twice.
        self.arranged = lru_cache(1)(self._arrange)
        self.framed = lru_cache(1)(self._read_frames)

    def gist(self, line: str) -> str | None:
        """What a line tells for the most part, in words of the grammar: worth a question and no more."""
        if not self._has_pieces:
            return None
        clause = self._clauses.plainest(tokenise(line, self._language))
        if clause is not None:
            return clause.text
        gist = self._arranger.gist(line)
        return None if gist is None else gist.text

    @cached_property
    def _clauses(self) -> Clauses:
        return Clauses(self._rules, self._sets, self._arranger.may_be_left)

    def is_note(self, tokens: tuple[Token, ...]) -> bool:
        """Whether a line tells by a frame what the log has no entry for."""
        return self._has_pieces and self._frames.is_note(tokens)

    @cached_property
    def _has_pieces(self) -> bool:
        return self._typed and load_pieces(self._language) is not None

    @cached_property
    def _arranger(self) -> Arranger:
        return Arranger(self._grammar, self._rules, self._sets, *self._layers)

    def _arrange(self, line: str) -> Arranged | None:
        """What a line says in order; None where that is nothing, or not one thing."""
        if not self._has_pieces:
            return None
        return self._arranger.arranged(line)

    def _read_frames(self, line: str) -> Arranged | None:
        """What a line says by a frame; one thing alone."""
        if not self._has_pieces:
            return None
        told: dict[tuple[Meanings, ...], Arranged] = {}
        tokens = tokenise(line, self._language)
        asks = self._rules.no_order.is_question(tokens)
        for each in self._framed_lines(tokens):
            found = self._rules.found(each.tokens)
            if found is None or len(found.readings) != 1:
                continue
            if not asks or all(isinstance(one, say.Tell | say.Answer) for one in found.readings[0]):
                told.setdefault(found.readings, Arranged(written(each.tokens), found, each.sure))
        return next(iter(told.values())) if len(told) == 1 else None

    def _framed_lines(self, tokens: tuple[Token, ...]) -> list[Framed]:
        """What a line says by frames, as it stands; else with the eye before it set aside, or in other words."""
        framed = self._frames.lines(tokens)
        if framed:
            return framed
        eye = self._eye_before(tokens)
        if eye:
            rest = self._frames.lines(tokens[eye:])
            framed = [replace(each, tokens=(*tokens[:eye], *each.tokens)) for each in rest if each.sure]
        for each in () if framed else self._arranger.in_other_words(tokens):
            framed += self._frames.lines(each)
        return framed

    def _eye_before(self, tokens: Sequence[Token]) -> int:
        """How many words at the start of a line name an eye; 0 where none do."""
        for at in range(min(len(tokens) - 1, _MOST_OF_EYE), 0, -1):
            found = self._rules.found(tokens[:at])
            if found is not None and is_of_eyes(found.readings[0]):
                return at
        return 0

    @cached_property
    def _frames(self) -> Frames:
        return Frames(self._grammar, self._sets, *self._layers)
