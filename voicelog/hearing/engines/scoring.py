"""The attention decoder as a judge: how likely it finds phrases that another listener has heard.

It reads the states of that listener's own network, which was trained for it (models/training/decoder.py): they are
far less disturbed by noise than those of the encoder that the decoder came with, and cost nothing more.

It is told the phrases, so it need not search the grammar: one pass over all of them, however unlikely the sound, and
one over its own transcript. What that costs depends on their number and length alone, and nothing is kept.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.network import FRAME_S, Exchange, Line, MoonshineModel, States
from voicelog.hearing.engines.protocol import Samples
from voicelog.hearing.engines.tokens import END, SPACE, spelled_words

Exchanges = Mapping[str, frozenset[str]]
"""For each word that counts others that would make another entry in its place."""

_PIECES_A_SECOND = 6.5  # what the model's authors allow; longer output is a loop, not speech
_FEWEST_PIECES = 16


@dataclass(frozen=True, slots=True, eq=False)
class Opinion:
    """Log probabilities (base e): of the phrases, shape (phrases,), and of the judge's own transcript, `text`.

    `apart`, shape (phrases,): how much likelier (log) each phrase's numbers, signs, eyes and motions are than others in
    the same place, the least of them; infinite where it has none.
    """

    phrases: npt.NDArray[np.float64]
    apart: npt.NDArray[np.float64]
    own: float
    text: str

    @property
    def letters(self) -> int:
        """Length of the transcript; a digit counts four, as it is spoken."""
        return sum(4 if letter.isdigit() else letter.isalpha() for letter in self.text)


class PhraseJudge:
    """Judges phrases by the states of an encoder. Raises MissingPartError when made without its model files."""

    def __init__(self, model: MoonshineModel | None = None) -> None:
        self._model = model or MoonshineModel()

    def states(self, samples: Samples) -> States:
        """What the decoder's own encoder makes of sound of shape (n,), 16 kHz."""
        return self._model.encode(samples)

    def judge(self, states: States, phrases: list[str], exchanges: Exchanges) -> Opinion:
        """How likely phrases are by states of shape (1, frames, 288), and how sure their words with exchanges are.

        A phrase is spelled as a sentence, with a capital and a full stop: so the decoder writes.
        """
        found = self._model.likelihoods(states, [self._line(phrase, exchanges) for phrase in phrases])
        longest = max(_FEWEST_PIECES, int(states.shape[1] * FRAME_S * _PIECES_A_SECOND) + 8)
        logs, apart = np.array(found).T
        return Opinion(logs, apart, *self._own(states, longest))

    def _own(self, states: States, longest: int) -> tuple[float, str]:
        """Log probability and text of the transcript that is made of the likeliest pieces, one by one."""
        log_p, memory = self._model.begin(states)
        total, pieces = 0.0, []
        for _ in range(longest):
            best = int(log_p[0].argmax())
            total += float(log_p[0, best])
            if best == END:
                break
            pieces.append(best)
            log_p, memory = self._model.step(memory, np.array([best]))
        return total, self._model.tokeniser.decode(pieces)

    def _line(self, phrase: str, exchanges: Exchanges) -> Line:
        """The pieces of a phrase with its end, and where the exchanges would differ."""
        encode = self._model.tokeniser.encode
        pieces: list[int] = []
        found: list[Exchange] = []
        for word, own in spelled_words(self._model.tokeniser, phrase):
            spelled = str.lower if pieces else str.capitalize
            for other in sorted(exchanges.get(word, ())):
                theirs = encode(SPACE + spelled(other))
                differing = (at for at, (a, b) in enumerate(zip(own, theirs, strict=False)) if a != b)
                at = next(differing, None)
                if at is not None:
                    found.append(Exchange(len(pieces) + at, len(pieces) + len(own), theirs[at]))
            pieces += own
        return Line((*pieces, *encode("."), END), tuple(found))
