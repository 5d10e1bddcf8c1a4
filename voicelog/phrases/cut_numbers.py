"""Whether a reading parts what belongs together: "in the one | fifty meridian" is no place one and a place fifty.

Nor are "plus one, um, plus one fifty vertical" two powers: who stops between two numbers mends the first.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import groupby

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Matcher, Meanings
from voicelog.phrases.word_sets import numbers, words_of

_NUMBERS = ("power", "axis")
_MOST_OF_DISTANCE = 6
_MOST_KEPT = 256
"""Runs of number words of which the numbers are kept: those of a few lines."""


class CutNumbers:
    """Finds readings that make two entries of the words of one number, or of a number and what mends it."""

    def __init__(self, grammar: Grammar) -> None:
        spelled = grammar.language.numbers
        self._joined_by = None if spelled is None else spelled.joined_by
        self._without_signs = numbers(grammar) - words_of(grammar, "sign") - words_of(grammar, "cm_word")
        self._signs = words_of(grammar, "sign")
        self._articles = words_of(grammar, "article_before_place")
        self._hesitation = words_of(grammar, "hm")
        self._distances = (
            Matcher(grammar.walker("plain_distance")) if "plain_distance" in grammar.rules else None
        )
        self._matchers = [Matcher(grammar.walker(rule)) for rule in _NUMBERS if rule in grammar.rules]
        # A line may have fifty readings, and each is asked about the same runs of its words.
        self._numbers = lru_cache(_MOST_KEPT)(self._numbers_of)

    def are_in(self, tokens: Sequence[Token], reading: Meanings) -> bool:
        """Whether a reading of a line parts a number."""
        held = [set(_numbers_in(part)) for meaning in reading for part in _wrong_and_right(meaning)]
        if len(reading) > 1 and (self._stops_between_numbers(tokens) or self._cuts_distance(tokens, reading)):
            return True
        said = set().union(*held)
        runs = self._runs(tokens)
        for start, run in runs:
            whole = self._as_one(run)
            for place in range(1, len(run)) if whole else ():
                before, behind = self._as_one(run[:place], cut=True), self._as_one(run[place:], cut=True)
                heard = _times(run[:place], tokens[:start])
                if _are_apart(before, behind, held, heard) and (
                    said.isdisjoint(whole)
                    # "half | a dioptre minus more": the half was all of it
                    or (whole == before and not said.isdisjoint(behind - self._said_by(runs, start)))
                    or (
                        # "one | quarter more"; a nought that begins a number is said nowhere else
                        said.isdisjoint(whole - behind) and not said.isdisjoint(before) and 0 not in before
                    )
                ):
                    return True
        return False

    def _stops_between_numbers(self, tokens: Sequence[Token]) -> bool:
        """Whether nothing but hesitation stands between a number and the next."""
        for place, token in enumerate(tokens):
            if place and token.text in self._hesitation and tokens[place - 1].text in self._without_signs:
                rest = next((each for each in tokens[place:] if each.text not in self._hesitation), None)
                if rest is not None and rest.text in self._without_signs | self._signs:
                    return True
        return False

    def _cuts_distance(self, tokens: Sequence[Token], reading: Meanings) -> bool:
        """Whether only the end of a distance is taken: "back half | a metre"."""
        told = {each.distance_cm for each in reading if isinstance(each, say.WorkingDistance)}
        if not told or self._distances is None:
            return False
        said: set[float] = set()
        at = 0
        while at < len(tokens):
            for end in range(min(len(tokens), at + _MOST_OF_DISTANCE), at, -1):
                if values := self._distances.values(tokens[at:end]):
                    said |= {float(str(value)) for value in values}
                    at = end - 1
                    break
            at += 1
        return bool(said) and told.isdisjoint(said)

    def _runs(self, tokens: Sequence[Token]) -> list[tuple[int, tuple[Token, ...]]]:
        """The longest runs of number words, of two and more, without a sign before them, and where they begin."""
        found: list[tuple[int, tuple[Token, ...]]] = []
        for inside, grouped in groupby(enumerate(tokens), lambda one: one[1].text in self._without_signs):
            places, run = zip(*grouped, strict=True)
            if inside and run[0].text in self._articles and not self._as_one(run):
                places, run = places[1:], run[1:]
            if inside and len(run) > 1:
                found.append((places[0], run))
        return found

    def _said_by(self, runs: Sequence[tuple[int, tuple[Token, ...]]], but: int) -> frozenset[float]:
        """The numbers that runs of a line say, without the run that begins at `but`."""
        return frozenset().union(*(self._as_one(run) for place, run in runs if place != but))

    def _as_one(self, run: Sequence[Token], *, cut: bool = False) -> frozenset[float]:
        """What a run of number words is as one number: dioptres in steps that lenses have, degrees.

        What is left of a number that was `cut` may be in no step: "one point seven | five".
        """
        found = self._numbers(tuple(run[1:] if run[0].text == self._joined_by else run))
        return found if cut else frozenset(number for number in found if (8 * number).is_integer())

    def _numbers_of(self, run: tuple[Token, ...]) -> frozenset[float]:
        readings = [reading for matcher in self._matchers for reading in matcher.readings(run)]
        return frozenset(number for (meaning,) in readings for number in _numbers_in(meaning))


def _wrong_and_right(meaning: say.Meaning) -> tuple[say.Model, ...]:
    """What is put right and what was wrong, apart: "not one eighty" is not "not one, eighty"."""
    if isinstance(meaning, say.Correction):
        wrong = () if meaning.wrong_axis_deg is None else (say.LooseAxis(axis=meaning.wrong_axis_deg),)
        return (meaning.entry, *wrong, *(() if meaning.wrong is None else (meaning.wrong,)))
    return (meaning.right, meaning.wrong) if isinstance(meaning, say.NotBut) else (meaning,)


def _are_apart(
    before: frozenset[float], behind: frozenset[float], held: Sequence[set[float]], heard: int
) -> bool:
    """Whether of two numbers one is said, and by no entry both: "six nine" is one acuity.

    The first was `heard` so many times before. "Plus one | fifty that one neutral" says it in an entry before the one
    that holds both.
    """
    both = next((place for place, each in enumerate(held) if before & each and behind & each), len(held))
    earlier = sum(not before.isdisjoint(each) for each in held[:both])
    together = both < len(held) and earlier <= heard
    return not together and bool(before and behind) and any((before | behind) & each for each in held)


def _times(part: Sequence[Token], tokens: Sequence[Token]) -> int:
    """How many times the words of `part` stand in `tokens`."""
    words, line = [each.text for each in part], [each.text for each in tokens]
    return sum(line[at : at + len(words)] == words for at in range(len(line)))


def _numbers_in(model: say.Model) -> Iterator[float]:
    """Every size, axis, angle and distance inside a meaning."""
    for name in type(model).model_fields:
        if isinstance(model, say.Power) and name == "sign":
            continue
        value = getattr(model, name)
        for each in value if isinstance(value, tuple) else (value,):
            if isinstance(each, say.Model):
                yield from _numbers_in(each)
            elif isinstance(each, int | float) and not isinstance(each, bool):
                yield float(each)
