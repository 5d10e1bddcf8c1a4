"""The default engine: the neural network, walked along the grammar, and its spellings read back as meanings."""

import time

import numpy as np

from voicelog.hearing.engines.network import MoonshineModel
from voicelog.hearing.engines.protocol import Hearing, Hypothesis, Samples
from voicelog.hearing.engines.search import Search, SearchWidth, Spelled
from voicelog.hearing.engines.spelling import SpelledGrammar
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.lines import LineReader
from voicelog.phrases.meanings import Meaning

_LAYERS = (Layer.WRITTEN, Layer.HEARD)


class MoonshineEngine:
    """Hears utterances as phrases of a grammar. Raises MissingPartError when made without its model files."""

    name = "moonshine"

    def __init__(
        self, grammar: Grammar, model: MoonshineModel | None = None, width: SearchWidth | None = None
    ) -> None:
        self._grammar = grammar
        self._model = model or MoonshineModel()
        self._width = width or SearchWidth()
        self._rules: dict[str, tuple[SpelledGrammar, LineReader]] = {}

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`."""
        started = time.perf_counter()
        spelled, reader = self._rule(rule)
        found = Search(self._model, spelled, self._width).run(samples)
        return Hearing(
            engine=self.name,
            hypotheses=self._by_meaning(found.phrases, reader),
            free_text=self._model.tokeniser.decode(found.free.pieces),
            free_log_probability=found.free.log_probability,
            seconds=time.perf_counter() - started,
        )

    def _rule(self, rule: str) -> tuple[SpelledGrammar, LineReader]:
        if rule not in self._rules:
            walker = self._grammar.walker(rule, *_LAYERS)
            self._rules[rule] = (
                SpelledGrammar(walker, self._model.tokeniser),
                LineReader(self._grammar, rule, *_LAYERS),
            )
        return self._rules[rule]

    def _by_meaning(self, phrases: tuple[Spelled, ...], reader: LineReader) -> tuple[Hypothesis, ...]:
        """Spellings of one meaning are one hypothesis: their probabilities add up."""
        found: dict[Meaning, tuple[str, list[float]]] = {}
        for phrase in phrases:
            text = self._model.tokeniser.decode(phrase.pieces)
            for meaning in reader.understand(text).meanings:
                found.setdefault(meaning, (text, []))[1].append(phrase.log_probability)
        hypotheses = (
            Hypothesis(text, meaning, float(np.logaddexp.reduce(logs)))
            for meaning, (text, logs) in found.items()
        )
        return tuple(sorted(hypotheses, key=lambda each: -each.log_probability))
