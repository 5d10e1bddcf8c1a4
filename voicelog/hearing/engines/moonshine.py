"""The default engine: the neural network, walked along the grammar, and its spellings read back as meanings."""

import time
from collections.abc import Iterable, Iterator

from voicelog.hearing.engines.gathering import Transcript, gathered
from voicelog.hearing.engines.network import MoonshineModel
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.engines.search import Search, SearchWidth, Spelled
from voicelog.hearing.engines.spelling import SpelledGrammar
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.in_order import RulesInOrder

_LAYERS = (Layer.WRITTEN, Layer.HEARD)
_MOST_STATES = 1500
"""States of a spelled grammar that are kept, with all that hangs on them."""


class MoonshineEngine:
    """Hears utterances as phrases of a grammar. Raises MissingPartError when made without its model files."""

    name = "moonshine"

    def __init__(
        self, grammar: Grammar, model: MoonshineModel | None = None, width: SearchWidth | None = None
    ) -> None:
        self._grammar = grammar
        self._model = model or MoonshineModel()
        self._width = width or SearchWidth()
        self._rules: dict[str, tuple[SpelledGrammar, RulesInOrder]] = {}

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`."""
        started = time.perf_counter()
        spelled, matcher = self._rule(rule)
        found = Search(self._model, spelled, self._width).run(samples)
        return Hearing(
            engine=self.name,
            hypotheses=gathered(self._transcripts(found.phrases, spelled), matcher),
            free_text=self._model.tokeniser.decode(found.free.pieces),
            free_log_probability=found.free.log_probability,
            seconds=time.perf_counter() - started,
        )

    def _rule(self, rule: str) -> tuple[SpelledGrammar, RulesInOrder]:
        if rule not in self._rules or self._rules[rule][0].size > _MOST_STATES:
            walker = self._grammar.walker(rule, *_LAYERS)
            self._rules[rule] = (
                SpelledGrammar(walker, self._model.tokeniser),
                RulesInOrder(self._grammar, rule, *_LAYERS),
            )
        return self._rules[rule]

    def _transcripts(self, phrases: Iterable[Spelled], spelled: SpelledGrammar) -> Iterator[Transcript]:
        for phrase in phrases:
            text = self._model.tokeniser.decode(phrase.pieces)
            for words in spelled.words(phrase.pieces):
                yield text, words, phrase.log_probability
