"""The first listener, and a judge of whatever it heard that may be entered.

The judge (`scoring.py`) reads the states that the first made of the sound, and says how likely each of the phrases is
that the first found. Both count: what is likeliest to both together is the best, and is entered only if both leave it
clear enough (`letter_decision.py`). To a bare number, or bare letters, the judge listens with an encoder of its own. It
is asked however sure the first is: in noise the letters are at times sure of a number that was not said, and find no
rival ("plus three" for "plus three and a half").
"""

from collections.abc import Callable
from dataclasses import replace
from math import inf
from threading import Lock
from typing import Protocol

import numpy as np

from voicelog.hearing.engines.network import States
from voicelog.hearing.engines.protocol import Engine, HeardWord, Hearing, Samples
from voicelog.hearing.engines.scoring import Exchanges, Opinion
from voicelog.hearing.letter_decision import default_letter_limits, is_worth_judging
from voicelog.hearing.misheard import exchanges, number_words
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.language import Language

_SHARE = 0.75
"""What the judge's log probabilities count beside the first listener's: on tuning voices 0.5 to 1 did equally well."""
_MOST_JUDGED = 6
"""Of more phrases none was right that was not among the first six (2,134 phrases of tuning voices, most in noise)."""


def is_bare(phrase: str, language: Language) -> bool:
    """Whether a phrase is one word, or a number or letters and nothing else. So little can be misheard alike by two who
    read the same states: of 300 accented digits the judge then passed four wrong ones, with its own encoder none; and
    it passed an "o s" that was a "with".
    """
    words = phrase.split()
    return len(words) == 1 or all(len(word) == 1 or word in number_words(language) for word in words)


class First(Engine, Protocol):
    """A listener that gives the states behind what it heard, and says how well the words of a phrase fit which was not
    its best.
    """

    def heard(self, samples: Samples, rule: str) -> tuple[Hearing, States]:
        """What `hear` gives, and the states, shape (1, frames, 288)."""
        ...

    def words(self, samples: Samples, text: str) -> tuple[HeardWord, ...]:
        """The words of a phrase and when each was said; none where the sound is too short for them."""
        ...


class Judge(Protocol):
    """What is asked about phrases (`PhraseJudge`, or a test's own)."""

    def judge(self, states: States, phrases: list[str], exchanges: Exchanges) -> Opinion:
        """How likely phrases are by states, shape (1, frames, 288), and how far their words are from the exchanges."""
        ...

    def states(self, samples: Samples) -> States:
        """States of its own for sound of shape (n,), 16 kHz."""
        ...


class Consulting:
    """An engine whose hearings carry a second opinion, but for clear talk. `judge` makes the judge, when it is first
    needed or with `prepare`.
    """

    def __init__(self, grammar: Grammar, first: First, judge: Callable[[], Judge]) -> None:
        self.name = first.name
        self._language = grammar.language
        self._first = first
        self._make = judge
        self._made: Judge | None = None
        self._making = Lock()

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`."""
        hearing, states = self._first.heard(samples, rule)
        if is_worth_judging(hearing, self._language, default_letter_limits()):
            return self._judged(hearing, samples, states)
        return hearing

    def prepare(self) -> None:
        """Load the judge now, so that the first utterance that is not clear need not wait for it.

        May be called in another thread.
        """
        self._judge()

    def _judge(self) -> Judge:
        with self._making:
            if self._made is None:
                self._made = self._make()
            return self._made

    def _judged(self, hearing: Hearing, samples: Samples, states: States) -> Hearing:
        """The hearing with the judge's opinion: its phrases by what is likeliest to both.

        The score stays a matter of the first listener alone.
        """
        candidates = hearing.hypotheses[:_MOST_JUDGED]
        judge = self._judge()
        if is_bare(candidates[0].text, self._language):
            states = judge.states(samples)
        opinion = judge.judge(states, [each.text for each in candidates], exchanges(self._language))
        logs = opinion.phrases
        both = [
            replace(each, log_probability=each.log_probability + _SHARE * float(log))
            for each, log in zip(candidates, logs, strict=True)
        ]
        best = int(np.argmax([each.log_probability for each in both]))
        free = (hearing.free_log_probability or 0.0) + _SHARE * float(logs[best])
        return replace(
            hearing,
            hypotheses=tuple(sorted(both, key=lambda each: -each.log_probability)),
            free_log_probability=free,
            words=(best and self._first.words(samples, candidates[best].text)) or hearing.words,
            ending=None if best else hearing.ending,  # it was of another phrase
            second_opinion=float(logs[best] - np.delete(logs, best).max(initial=-inf)),
            second_score=float(logs[best]) - opinion.own,
            second_letters=opinion.letters,
            second_apart=float(opinion.apart[best]),
        )
