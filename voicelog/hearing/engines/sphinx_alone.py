"""PocketSphinx as an engine of its own: it walks the pairs of words that a rule allows, with a phone loop beside them.

A network of word pairs (`phrases/neighbours.py`) instead of the whole grammar written out: that has tens of thousands
of places, since every power and axis stands in it once for every line it occurs in, and took PocketSphinx 10 to 25 s
for an utterance (on a busy machine) where the pairs take well under one. What the pairs let through and the grammar
does not is found afterwards: only transcripts that the automaton knows as whole phrases count.

The phone loop is the way out for other speech: any phones, entered with a small probability, in the same
search. Where it wins, nothing is heard (as a search of its own it let through 2 of 25 sentences of talk; beside the
pairs none). Run once more by itself it is what a phrase's score stands against. Scores are the recogniser's own, in
natural logarithms, divided by its language weight, by which it balances sound and words itself; they are compared only
within one utterance.
"""

import math
import time
from collections import Counter
from itertools import islice
from typing import Any

import numpy as np

from voicelog.errors import MissingPartError
from voicelog.hearing.engines.gathering import gathered
from voicelog.hearing.engines.protocol import Hearing, Hypothesis, Samples
from voicelog.hearing.engines.sphinx import make_decoder
from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.neighbours import Neighbours, neighbours
from voicelog.phrases.word_sets import exact_words

_BEAM, _WORD_BEAM = 1e-40, 1e-20
_LANGUAGE_WEIGHT = 6.5
# The library keeps scores of sound shifted right by ten bits.
_SCORE_SCALE = 1024.0
_WAY_OUT = 1e-6
_ALTERNATIVES = 60  # many are the same words, cut at other places
# fmt: off
_PHONES = (
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY", "JH", "K",
    "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
)
# fmt: on
_PHONE = "phone_"
_START, _END, _LOOP, _FIRST_WORD = 0, 1, 2, 3

_Arc = tuple[int, int, float, str] | tuple[int, int, float]


class SphinxEngine:
    """Hears utterances as phrases of a grammar. Raises MissingPartError when made without its package.

    With `way_out` False everything is forced onto a phrase, for measuring on sound that is known to hold one: of 39
    single digits by real people 37 were right so, 16 with it (the rest left out, none wrong), 2026-11-25.
    """

    name = "sphinx"

    def __init__(self, grammar: Grammar, *, way_out: bool = True) -> None:
        self._grammar = grammar
        self._way_out = way_out
        self._decoder: Any = make_decoder(grammar, _BEAM, _WORD_BEAM, lw=_LANGUAGE_WEIGHT)
        for phone in _PHONES:
            self._decoder.add_word(_PHONE + phone.lower(), phone, True)
        self._add("way out", _way_out())
        self._matchers: dict[str, RulesInOrder] = {}

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`.

        Raises UnknownRuleError, and MissingPartError when its dictionary lacks words that must not be guessed.
        """
        started = time.perf_counter()
        if rule not in self._matchers:
            self._make(rule)
        sound = (np.clip(samples, -1.0, 1.0) * 32767).astype("<i2").tobytes()
        hypotheses = self._by_meaning(self._transcripts(f"rule {rule}", sound), rule)
        other = self._transcripts("way out", sound, 1) if hypotheses and self._way_out else []
        return Hearing(
            engine=self.name,
            hypotheses=hypotheses,
            free_text="",  # phones are no words
            free_log_probability=other[0][1] if other else None,
            seconds=time.perf_counter() - started,
        )

    def _make(self, rule: str) -> None:
        beside = neighbours(self._grammar, rule)
        known = frozenset(word for word in beside.words if self._decoder.lookup_word(word) is not None)
        unsafe = sorted((beside.words - known) & exact_words(self._grammar))
        if unsafe:
            raise MissingPartError(
                f"the engine sphinx cannot pronounce {', '.join(unsafe)}: add each to pronunciations.txt"
            )
        self._add(f"rule {rule}", _pairs(beside.only(known)) + (_way_out() if self._way_out else []))
        self._matchers[rule] = RulesInOrder(self._grammar, rule)

    def _add(self, name: str, arcs: list[_Arc]) -> None:
        self._decoder.add_fsg(name, self._decoder.create_fsg(name, _START, _END, arcs))

    def _transcripts(self, search: str, sound: bytes, most: int = _ALTERNATIVES) -> list[tuple[str, float]]:
        """Different transcripts with scores, likeliest first; none where the end of the network was not reached."""
        decoder = self._decoder
        decoder.activate_search(search)
        decoder.start_utt()
        decoder.process_raw(sound, full_utt=True)
        decoder.end_utt()
        best = decoder.hyp()
        if best is None or not best.hypstr:
            return []
        found = {best.hypstr: _log(best.score)}
        if most > 1 and _PHONE not in best.hypstr:
            for each in islice(decoder.nbest() or (), most):
                if each is not None and each.hypstr:
                    found.setdefault(each.hypstr, _log(each.score))
        return sorted(found.items(), key=lambda item: -item[1])

    def _by_meaning(self, found: list[tuple[str, float]], rule: str) -> tuple[Hypothesis, ...]:
        transcripts = ((text, [Token(word) for word in text.split()], log) for text, log in found)
        return gathered(transcripts, self._matchers[rule])


def _log(score: float) -> float:
    return math.log(score) * _SCORE_SCALE / _LANGUAGE_WEIGHT if score > 0 else -math.inf


def _pairs(beside: Neighbours) -> list[_Arc]:
    """Places are words just said; the words that may follow one are equally likely."""
    place = {word: number for number, word in enumerate(sorted(beside.words), _FIRST_WORD)}
    followers = Counter(one for one, _ in beside.pairs)
    arcs: list[_Arc] = [(_START, place[word], 1 / len(beside.first), word) for word in sorted(beside.first)]
    arcs += [(place[one], place[other], 1 / followers[one], other) for one, other in sorted(beside.pairs)]
    arcs += [(place[word], _END, 1.0) for word in sorted(beside.last)]
    return arcs


def _way_out() -> list[_Arc]:
    words = [_PHONE + phone.lower() for phone in _PHONES]
    arcs: list[_Arc] = [(_START, _LOOP, _WAY_OUT, word) for word in words]
    arcs += [(_LOOP, _LOOP, 1 / len(words), word) for word in words]
    arcs.append((_LOOP, _END, 1.0))
    return arcs
