"""The first listener: the network of letters, searched along the grammar."""

import time
from functools import lru_cache

import numpy as np

from voicelog.hearing.engines.alignment import aligned
from voicelog.hearing.engines.letter_search import LetterSearch, Phrase, SearchWidth
from voicelog.hearing.engines.letters import FRAME_S, LetterModel, Scores, greedy_text, text_log_probability
from voicelog.hearing.engines.protocol import HeardWord, Hearing, Hypothesis, Samples
from voicelog.hearing.engines.word_network import WordNetwork
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.lines import LineReader
from voicelog.phrases.matcher import Meanings

NAME = "letters"
_MOST_READ = 12
_READ_BEHIND_LOG = 12.0
"""Phrases so far behind the best are not read: their meanings would be no rivals."""
_KEPT_READINGS = 2048


class LettersEngine:
    """Hears utterances as phrases of a grammar. Raises MissingPartError when made without its model.

    The log probability of a hypothesis is that of the sound and, with less weight, that of the words in the grammar. So
    that the score is a matter of the sound alone, the free transcript is given the same weight of words.
    """

    name = NAME

    def __init__(
        self, grammar: Grammar, model: LetterModel | None = None, width: SearchWidth | None = None
    ) -> None:
        self._model = model or LetterModel()
        self._width = width or SearchWidth()
        self._grammar = grammar
        self._network = WordNetwork(grammar)
        self._readers: dict[str, LineReader] = {}
        self._readings = lru_cache(_KEPT_READINGS)(self._read)

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`."""
        started = time.perf_counter()
        scores = self._model.posteriors(samples)
        search = LetterSearch(self._network, rule, self._width)
        search.take(scores)
        phrases = search.phrases()
        free_text = greedy_text(scores)
        free = text_log_probability(scores, free_text)
        best = next((each for each in phrases[:_MOST_READ] if self._readings(each.text, rule)), None)
        if best is not None:
            free += self._width.grammar_weight * best.log_weight
        return Hearing(
            engine=self.name,
            hypotheses=self._hypotheses(phrases, search, rule),
            free_text=free_text,
            free_log_probability=free,
            seconds=time.perf_counter() - started,
            words=_words(scores, best),
        )

    def _hypotheses(
        self, phrases: tuple[Phrase, ...], search: LetterSearch, rule: str
    ) -> tuple[Hypothesis, ...]:
        """What the phrases can say, likeliest first; the probabilities of all wordings of one meaning add up."""
        found: dict[Meanings, tuple[str, list[float]]] = {}
        for phrase in phrases[:_MOST_READ]:
            if search.rank(phrase) < search.rank(phrases[0]) - _READ_BEHIND_LOG:
                break
            for meanings in self._readings(phrase.text, rule):
                found.setdefault(meanings, (phrase.text, []))[1].append(search.rank(phrase))
        hypotheses = (
            Hypothesis(text, meanings, float(np.logaddexp.reduce(logs)))
            for meanings, (text, logs) in found.items()
        )
        return tuple(sorted(hypotheses, key=lambda each: -each.log_probability))

    def _read(self, text: str, rule: str) -> tuple[Meanings, ...]:
        reader = self._readers.setdefault(rule, LineReader(self._grammar, rule))
        understood = reader.phrase(text)
        return () if understood is None else understood.readings


def _words(scores: Scores, best: Phrase | None) -> tuple[HeardWord, ...]:
    if best is None:
        return ()
    return tuple(
        HeardWord(each.text, each.first * FRAME_S, each.last * FRAME_S, each.misfit)
        for each in aligned(scores, best.text)
    )
