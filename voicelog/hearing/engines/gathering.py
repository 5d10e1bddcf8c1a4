"""Transcripts to hypotheses: whole phrases only, and wordings of one meaning are one."""

from collections.abc import Iterable, Sequence

import numpy as np

from voicelog.hearing.engines.protocol import Hypothesis
from voicelog.phrases.automaton import Token
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.matcher import Meanings

Transcript = tuple[str, Sequence[Token], float]
"""As it is shown, its words, and its log probability (base e)."""


def gathered(transcripts: Iterable[Transcript], rules: RulesInOrder) -> tuple[Hypothesis, ...]:
    """What the transcripts can say, likeliest first; the probabilities of all wordings of one meaning add up."""
    spelled: dict[tuple[Token, ...], tuple[str, list[float]]] = {}
    for text, words, log_probability in transcripts:
        spelled.setdefault(tuple(words), (text, []))[1].append(log_probability)
    found: dict[Meanings, tuple[str, list[float]]] = {}
    for words, (text, logs) in spelled.items():
        for meanings in rules.readings(words):
            found.setdefault(meanings, (text, []))[1].extend(logs)
    hypotheses = (
        Hypothesis(text, meanings, float(np.logaddexp.reduce(logs)))
        for meanings, (text, logs) in found.items()
    )
    return tuple(sorted(hypotheses, key=lambda each: -each.log_probability))
