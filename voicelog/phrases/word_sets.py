"""Words by what they may tell: which are exact, which tell something wherever they stand, which tell nothing."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

from rapidfuzz.distance import DamerauLevenshtein

from voicelog.phrases.automaton import FragmentKey, Layer, Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import walked_over

# Numbers, signs and eyes are never matched loosely: one letter turns "fifty" into "fifteen", or an eye over.
_EXACT_RULES = (
    *("digit", "sign", "magnitude", "axis", "distance", "direction", "direction_letter"),
    *("eye_name", "other_eye", "side", "sides"),
)
_NUMBER_RULES = ("digit", "sign", "magnitude", "axis", "distance")
_LIGHT_RULES = ("light", "lead", "am", "did", "will", "found", "comes")
_NAMING_RULES = ("streak_word", "meridian_word", "by_axis_word", "distance_word", "wd_lens")
_PLAIN_RULES = ("reading", "lenses", "working_distance", "eye")
"""Rules of plain entries: what can stand in one of them puts nothing right by itself."""
_MOST_COMPARED = 100_000
UNLIKE = 0.5
"""Words so far from each other or farther are not one of them misspelt (share of the letters)."""


@dataclass(frozen=True)
class WordSets:
    """The words of a language that the search for phrases near a line must tell apart.

    `exact`: of numbers, signs, axes and eyes. `telling`: tell something wherever they stand. `doubt`: doubt, denial and
    repair. `motion`: with, against, neutral. `repairs`: make a value another. `guarded`: of another time, another
    person's speech, a question, nearness. `idle`: tell nothing. `light`: words of frames, which tell nothing by
    themselves. `known`: all words of the grammar. `names`: name what a value is of, or is found along. `beside`: of the
    room and the patient, which free words may be.
    """

    numbers: frozenset[str]
    signs: frozenset[str]
    exact: frozenset[str]
    telling: frozenset[str]
    doubt: frozenset[str]
    motion: frozenset[str]
    repairs: frozenset[str]
    guarded: frozenset[str]
    idle: frozenset[str]
    light: frozenset[str]
    known: frozenset[str]
    names: frozenset[str]
    beside: frozenset[str]

    @cached_property
    def protected(self) -> frozenset[str]:
        """All that is never passed over without asking."""
        return (
            self.exact | self.telling | self.doubt | self.motion | self.repairs | self.guarded
        ) - self.idle

    def walked_over(self, tokens: Sequence[Token]) -> list[tuple[Token, ...]]:
        """For each word of a line the words of the grammar that it may be."""
        return [walked_over(token, self.beside) for token in tokens]

    def of_number(self, token: Token) -> bool:
        """Whether a word belongs to a number or is a sign; so do figures and marks."""
        return token.text in self.numbers or not token.text.lstrip("'").isalpha()

    def is_sign(self, token: Token) -> bool:
        """Whether a word is a sign: a number begins with it."""
        return token.text in self.signs or token.text in ("+", "-")


@cache
def word_sets(grammar: Grammar) -> WordSets:
    """The sets of a grammar; a set whose rule it lacks is empty."""
    return WordSets(
        numbers=numbers(grammar),
        signs=words_of(grammar, "sign"),
        exact=exact_words(grammar),
        telling=words_of(grammar, "telling"),
        doubt=words_of(grammar, "telling_doubt"),
        motion=words_of(grammar, "telling_motion"),
        repairs=words_of(grammar, "fix_word") - _words_of_all(grammar, _PLAIN_RULES),
        guarded=words_of(grammar, "guarded"),
        idle=words_of(grammar, "idle"),
        light=_words_of_all(grammar, _LIGHT_RULES) - words_of(grammar, "word_where"),
        known=_known(grammar),
        names=_words_of_all(grammar, _NAMING_RULES)
        & words_of(grammar, "telling") - words_of(grammar, "telling_motion"),
        beside=beside_words(grammar),
    )


def _known(grammar: Grammar) -> frozenset[str]:
    """The words of all phrases; those that free words may be are of none."""
    automaton = grammar.automaton
    listed = automaton.fragments.get(FragmentKey("beside", Layer.TYPED))
    return frozenset(
        over.token.text
        for place, state in enumerate(automaton.states)
        if listed is None or place != listed[0]
        for over in state.words
    )


@cache
def beside_words(grammar: Grammar) -> frozenset[str]:
    """The words that may stand for free words: a closed list, so that none of them undoes what it stands beside."""
    listed = words_of(grammar, "beside", Layer.TYPED) | words_of(grammar, "idle")
    return listed - words_of(grammar, "telling") - words_of(grammar, "telling_doubt")


def _words_of_all(grammar: Grammar, rules: Iterable[str]) -> frozenset[str]:
    return frozenset().union(*(words_of(grammar, rule) for rule in rules))


@lru_cache(_MOST_COMPARED)
def unlikeness(word: str, other: str) -> float:
    """How far two words are from each other, as a share of their letters: 0 the same, 1 nothing alike."""
    return DamerauLevenshtein.normalized_distance(word, other)


@lru_cache(_MOST_COMPARED)
def slips(word: str, other: str) -> int:
    """How many letters must be changed, put in, left out or changed round to make one word of another."""
    return DamerauLevenshtein.distance(word, other)


@cache
def exact_words(grammar: Grammar) -> frozenset[str]:
    """The words of numbers, signs, axes and eyes, which are never matched loosely."""
    rules = _EXACT_RULES if "eye_name" in grammar.rules else (*_EXACT_RULES, "eye")
    return _words_of_all(grammar, rules)


@cache
def numbers(grammar: Grammar) -> frozenset[str]:
    """The words of numbers and their signs."""
    return _words_of_all(grammar, _NUMBER_RULES)


@cache
def words_of(grammar: Grammar, rule: str, layer: Layer = Layer.SAID) -> frozenset[str]:
    """All words of a rule in a layer; none when the grammar has no such rule, as one of another language need not.

    State by state: to walk the rule itself would tell every state apart by all the ways that lead to it.
    """
    if rule not in grammar.rules or layer not in grammar.rules[rule].layers:
        return frozenset()
    automaton = grammar.automaton
    words: set[str] = set()
    todo = [automaton.fragments[FragmentKey(rule, layer)][0]]
    seen = set(todo)
    while todo:
        state = automaton.states[todo.pop()]
        words.update(over.token.text for over in state.words)
        calls = [call for call in state.calls if call.fragment.layer is Layer.SAID]
        inner = [automaton.fragments[call.fragment][0] for call in calls]
        onward = (
            *(over.target for over in state.words),
            *(free.target for free in state.free),
            *(call.target for call in calls),
        )
        fresh = {*inner, *onward} - seen
        seen |= fresh
        todo.extend(fresh)
    return frozenset(words)
