"""Two listeners: the first hears, the second is asked to choose where the first may be wrong.

That is where the next meaning is close. With `doubting_numbers` it is asked as well wherever a number is one of the
pairs that are misheard most (fifteen and fifty) with both values likely, although the first listener did not think of
the other: safer, for more questions.
"""

from dataclasses import replace

from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.engines.sphinx import SphinxListener
from voicelog.hearing.misheard import has_odd_number
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.matcher import Meanings, tokenise
from voicelog.phrases.meanings import Power
from voicelog.phrases.plain_words import in_plain_words
from voicelog.phrases.saying import as_expansion, misheard_twins, numbers_together
from voicelog.phrases.traversal import parts

CLOSE_LOG = 4.0  # a next meaning this near is worth a second opinion


class TwoListeners:
    """An engine whose hearings carry a second opinion where one was worth asking for."""

    def __init__(
        self, grammar: Grammar, first: Engine, second: SphinxListener, *, doubting_numbers: bool = False
    ) -> None:
        self.name = f"{first.name}+sphinx"
        self._grammar = grammar
        self._first = first
        self._second = second
        self._doubting_numbers = doubting_numbers
        self._readers: dict[str, LineReader] = {}

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`."""
        hearing = self._first.hear(samples, rule)
        if not hearing.hypotheses:
            return hearing
        best = self._words(hearing.hypotheses[0].text)
        rivals = [
            self._words(each.text) for each in hearing.hypotheses[1:2] if (hearing.margin or 0.0) < CLOSE_LOG
        ]
        if self._doubting_numbers:
            rivals += [
                twin
                for twin in misheard_twins(best, self._grammar.language)
                if self._is_likely(twin, rule) and twin not in rivals
            ]
        ours = self._expansion(best)
        opinions = [self._second.preference(samples, ours, self._expansion(each)) for each in rivals]
        known = [each for each in opinions if each is not None]
        return replace(hearing, second_opinion=min(known) if known else None)

    def _words(self, text: str) -> list[str]:
        return numbers_together(tokenise(in_plain_words(self._grammar, text), self._grammar.language))

    def _expansion(self, words: list[str]) -> str:
        return as_expansion(words, self._grammar.language)

    def _is_likely(self, words: list[str], rule: str) -> bool:
        """Whether a twin is a phrase somebody might well say: no axis such as 16, no power off the quarter steps."""
        reader = self._readers.setdefault(rule, LineReader(self._grammar, rule, Layer.WRITTEN))
        try:
            readings = reader.understand(" ".join(words)).readings
        except NotAPhraseError:
            return False
        return not any(
            has_odd_number(meanings, self._grammar.language) or _off_the_quarters(meanings)
            for meanings in readings
        )


def _off_the_quarters(meanings: Meanings) -> bool:
    powers = (power for meaning in meanings for power in parts(meaning, Power))
    return any((power.dioptres or 0.0) % 0.25 for power in powers)
