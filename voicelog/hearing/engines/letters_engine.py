"""The first listener: the network of letters, searched along the grammar."""

import time
from dataclasses import dataclass
from functools import lru_cache
from math import inf

import numpy as np

from voicelog.hearing.engines.alignment import aligned
from voicelog.hearing.engines.letter_search import LetterSearch, Phrase, SearchWidth
from voicelog.hearing.engines.letters import (
    FRAME_S,
    LetterModel,
    Scores,
    States,
    greedy_text,
    text_log_probability,
)
from voicelog.hearing.engines.protocol import Ending, HeardWord, Hearing, Hypothesis, Samples
from voicelog.hearing.engines.unexplained import unexplained_s
from voicelog.hearing.engines.word_network import WordNetwork
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.lines import LineReader
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.word_sets import exact_words, words_of

NAME = "letters"
_MOST_READ = 12
_MOST_READ_ALIKE = 60
"""So many are read where all say the same: a long line with small words beside its values has many wordings. Only what
says something else tells how far behind the others are.
"""
_READ_BEHIND_LOG = 12.0
"""Phrases so far behind the best are not read: their meanings would be no rivals."""
_KEPT_READINGS = 512


@dataclass(frozen=True, slots=True)
class _Read:
    """What the phrases say, likeliest first; the likeliest phrase that says anything; and how far it was looked."""

    hypotheses: tuple[Hypothesis, ...] = ()
    best: Phrase | None = None
    reach: float = _READ_BEHIND_LOG


class LettersEngine:
    """Hears utterances as phrases of a grammar. Raises MissingPartError when made without its model.

    The log probability of a hypothesis is that of the sound and, with less weight, that of the words in the grammar.
    The free transcript is given the same weight of words, so that the score is a matter of the sound alone.
    """

    name = NAME

    def __init__(
        self, grammar: Grammar, model: LetterModel | None = None, width: SearchWidth | None = None
    ) -> None:
        self._model = model or LetterModel()
        self._width = width or SearchWidth()
        self._grammar = grammar
        self._network = WordNetwork(grammar)
        self._telling = exact_words(grammar) | words_of(grammar, "telling")
        self._readers: dict[str, LineReader] = {}
        self._readings = lru_cache(_KEPT_READINGS)(self._read)

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`."""
        return self.heard(samples, rule)[0]

    def heard(self, samples: Samples, rule: str) -> tuple[Hearing, States]:
        """What `hear` gives, and the states that the letters were read off."""
        started = time.perf_counter()
        scores, states = self._model.whole(samples)
        search = LetterSearch(self._network, rule, self._width)
        search.take(scores)
        read = self._said(search, rule)
        free_text = greedy_text(scores)
        free = sound = text_log_probability(scores, free_text)
        if read.best is not None:
            free += self._width.grammar_weight * read.best.log_weight
        hearing = Hearing(
            engine=self.name,
            hypotheses=read.hypotheses,
            free_text=free_text,
            free_log_probability=free,
            seconds=time.perf_counter() - started,
            words=() if read.best is None else self._fitted(scores, read.best.text),
            unexplained_s=unexplained_s(samples, scores),
            reach=read.reach,
            ending=self._ending(search, read.best, sound),
        )
        return hearing, states

    def _ending(self, search: LetterSearch, best: Phrase | None, sound: float) -> Ending | None:
        beginning = search.beginning()
        if beginning is None:
            return None
        closing = -inf if best is None else self._network.closing(best.behind)
        return Ending(beginning.text, beginning.log_probability - sound, closing)

    def _said(self, search: LetterSearch, rule: str) -> _Read:
        """What the phrases can say; the probabilities of all wordings of one meaning add up."""
        found: dict[Meanings, tuple[Phrase, list[float]]] = {}
        phrases = search.phrases()
        reach = _READ_BEHIND_LOG
        for number, phrase in enumerate(phrases):
            behind = search.rank(phrases[0]) - search.rank(phrase)
            enough = _MOST_READ if len(found) > 1 else _MOST_READ_ALIKE
            if number >= enough or behind > _READ_BEHIND_LOG:
                reach = min(reach, behind)
                break
            for meanings in self._readings(phrase.text, rule):
                found.setdefault(meanings, (phrase, []))[1].append(search.rank(phrase))
        if not found:
            return _Read()
        hypotheses = [
            Hypothesis(phrase.text, meanings, float(np.logaddexp.reduce(ranks)))
            for meanings, (phrase, ranks) in found.items()
        ]
        hypotheses.sort(key=lambda each: -each.log_probability)
        return _Read(tuple(hypotheses), found[hypotheses[0].meanings][0], reach)

    def _read(self, text: str, rule: str) -> tuple[Meanings, ...]:
        reader = self._readers.setdefault(rule, LineReader(self._grammar, rule))
        understood = reader.phrase(text)
        return () if understood is None else understood.readings

    def words(self, samples: Samples, text: str) -> tuple[HeardWord, ...]:
        """The words of a phrase and when each was said; none where the sound is too short for them."""
        return self._fitted(self._model.posteriors(samples), text)

    def _fitted(self, scores: Scores, text: str) -> tuple[HeardWord, ...]:
        return tuple(
            HeardWord(
                each.text,
                each.first * FRAME_S,
                each.last * FRAME_S,
                each.misfit,
                any(part in self._telling for part in each.text.replace("'", " '").split()),
            )
            for each in aligned(scores, text)
        )
