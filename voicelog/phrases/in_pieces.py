"""What a typed line says by its pieces: put in order, by a frame, or for the most part.

Only where it is no phrase as it stands: the pieces of a language take a moment to load. A language without any has
none of this.
"""

from collections import Counter
from collections.abc import Sequence
from functools import cached_property, lru_cache

from voicelog.phrases import meanings as say
from voicelog.phrases.arranged import Arranged, Arranger
from voicelog.phrases.at_odds import is_at_odds
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.clause import Clauses
from voicelog.phrases.frames import Framed, Frames
from voicelog.phrases.grammar import Grammar, load_pieces
from voicelog.phrases.in_order import Found, RulesInOrder
from voicelog.phrases.matcher import Meanings, tokenise, written
from voicelog.phrases.word_sets import WordSets, words_of

_NAMED = "answers_where"
"""The rule of the answers to what a bare direction names."""
_BEFORE_ENTRIES = (say.Eye, say.WorkingDistance, say.Technique, say.Condition)
"""What is said before entries, and told by a phrase of its own."""
_MOST_BESIDE_NAMING = 2
"""Words of some weight beside what a bare direction names: "the meridian hotel is full they say" names nothing."""


class LineInPieces:
    """Reads lines of rules by the pieces of their grammar's language; none but typed ones."""

    def __init__(self, grammar: Grammar, rules: RulesInOrder, sets: WordSets, *layers: Layer) -> None:
        self._grammar, self._layers, self._language = grammar, layers, grammar.language
        self._rules = rules
        self._sets = sets
        self._habits = words_of(grammar, "habit_word")
        self._looks = words_of(grammar, "look") - sets.idle
        # A refused line asks for each twice.
        self.arranged = lru_cache(1)(self._arrange)
        self.framed = lru_cache(1)(self._read_frames)

    def gist(self, line: str) -> str | None:
        """What a line tells for the most part, in words of the grammar: worth a question and no more."""
        if not self._has_pieces:
            return None
        return self._clauses.plainest(tokenise(line, self._language)) or self._arranger.gist(line)

    @cached_property
    def _clauses(self) -> Clauses:
        return Clauses(self._rules, self._sets, self._arranger.may_be_left)

    def naming(self, tokens: Sequence[Token]) -> Found | None:
        """What is named, streak or meridian, where that is asked: "oh sorry, streak", "it's the meridian I talking"."""
        named = [token for token in tokens if token.text in self._habits]
        if _NAMED not in self._rules.matchers or len(named) != 1 or not self._has_pieces:
            return None
        others = [token for token in tokens if token not in named]
        told = [token for token in others if token.text not in self._sets.idle]
        if len(told) > _MOST_BESIDE_NAMING or not all(map(self._arranger.may_be_left, told)):
            return None
        at = tokens.index(named[0])
        if at and tokens[at - 1].text in self._looks:  # "I see a bright streak"
            return None
        return Found(self._rules.said(_NAMED, named), _NAMED)

    def is_note(self, tokens: tuple[Token, ...]) -> bool:
        """Whether a line tells by a frame what the log has no entry for."""
        return self._has_pieces and self._frames.is_note(tokens)

    @cached_property
    def _has_pieces(self) -> bool:
        return Layer.TYPED in self._layers and load_pieces(self._language) is not None

    @cached_property
    def _arranger(self) -> Arranger:
        return Arranger(self._grammar, self._rules, self._sets, *self._layers)

    def _arrange(self, line: str) -> Arranged | None:
        """What a line says in order; None where that is nothing, or not one thing."""
        if not self._has_pieces:
            return None
        return self._arranger.arranged(line)

    def _read_frames(self, line: str) -> Arranged | None:
        """What a line says by a frame, behind what goes before an entry, or in other words; one thing alone."""
        if not self._has_pieces:
            return None
        tokens = tokenise(line, self._language)
        found = self._in_frames(self._frames.lines(tokens), tokens) or self._behind(tokens)
        if found is not None:
            return found
        reworded = [
            framed for each in self._arranger.in_other_words(tokens) for framed in self._frames.lines(each)
        ]
        return self._in_frames(reworded, tokens)

    def _in_frames(self, framed: Sequence[Framed], tokens: Sequence[Token]) -> Arranged | None:
        """The one thing that framed lines say."""
        told: dict[tuple[Meanings, ...], Arranged] = {}
        asks = self._rules.no_order.is_question(tokens)
        for each in _most_telling(framed):
            found = self._rules.found(each.tokens)
            if found is None or len(found.readings) != 1:
                continue
            if not asks or all(isinstance(one, say.Tell | say.Answer) for one in found.readings[0]):
                told.setdefault(found.readings, Arranged(written(each.tokens), found, each.sure))
        return next(iter(told.values())) if len(told) == 1 else None

    def _behind(self, tokens: tuple[Token, ...]) -> Arranged | None:
        """What a line says that begins with an eye, a distance or a technique, and goes on with a frame."""
        for at in range(len(tokens) - 2, 0, -1):
            before = self._rules.found(tokens[:at])
            if before is None or len(before.readings) != 1:
                continue
            if not all(isinstance(each, _BEFORE_ENTRIES) for each in before.readings[0]):
                continue
            rest = self._in_frames(self._frames.lines(tokens[at:]), tokens[at:])
            if rest is not None and rest.sure:
                reading = (*before.readings[0], *rest.found.readings[0])
                if is_at_odds(reading):
                    continue
                text = f"{written(tokens[:at])} {rest.text}"
                return Arranged(text, Found((reading,), rest.found.rule), sure=True)
        return None

    @cached_property
    def _frames(self) -> Frames:
        return Frames(self._grammar, self._sets, *self._layers)


def _most_telling(framed: Sequence[Framed]) -> list[Framed]:
    """Framed lines without those whose words are all in another: "horizontal" beside "streak horizontal"."""
    words = [Counter(token.text for token in each.tokens) for each in framed]
    return [
        each for each, mine in zip(framed, words, strict=True) if not any(mine < other for other in words)
    ]
