"""The words of a grammar as one tree of letters.

The words lie in the order of the alphabet, so what hangs on a node is a run of them. Which nodes a place in the grammar
may go to, and how likely, is then one sweep over arrays. Words that are joined to the one before ('s, 't) have a root
of their own, without a space before them.
"""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.letters import LETTERS
from voicelog.phrases.automaton import Token

Integers = npt.NDArray[np.int32]
Floats = npt.NDArray[np.float32]

ROOT, JOINED_ROOT = 0, 1
APOSTROPHE = LETTERS.index("'")


class LetterTree:
    """All words, letter by letter.

    `children`, shape (nodes, 28), leads on by letter; `column` where there is no way, whose weight is always minus
    infinity. `leaf`, shape (nodes,), is the column of the word that ends at a node, else `column` too.
    Columns are the nodes, then the words, then the one for no way.
    """

    def __init__(self, tokens: Iterable[Token]) -> None:
        spelled = {token for token in tokens if token.text and not set(token.text) - set(LETTERS[1:])}
        self.tokens = tuple(sorted(spelled, key=lambda token: (token.joined, token.text)))
        self.number = {token: place for place, token in enumerate(self.tokens)}
        paths = [[ROOT], [JOINED_ROOT]]
        places: dict[tuple[int, int], int] = {}
        ends: dict[int, int] = {}
        runs: list[tuple[int, int]] = [self._run(False), self._run(True)]
        for place, token in enumerate(self.tokens):
            node = paths[token.joined][0]
            for letter in map(LETTERS.index, token.text):
                if (node, letter) not in places:
                    places[node, letter] = len(runs)
                    runs.append((place, place + 1))
                node = places[node, letter]
                runs[node] = (runs[node][0], place + 1)
            ends[node] = place
        self.nodes = len(runs)
        self.column = self.nodes + len(self.tokens)
        self.children: Integers = np.full((self.nodes, len(LETTERS)), self.column, np.int32)
        for (node, letter), child in places.items():
            self.children[node, letter] = child
        self.leaf: Integers = np.full(self.nodes, self.column, np.int32)
        self.word: Integers = np.full(self.nodes, -1, np.int32)
        for node, place in ends.items():
            self.leaf[node] = self.nodes + place
            self.word[node] = place
        self._runs = np.array(runs, np.int64).ravel()

    def _run(self, joined: bool) -> tuple[int, int]:
        places = [place for place, token in enumerate(self.tokens) if token.joined is joined]
        return (places[0], places[-1] + 1) if places else (0, 0)

    def columns(self, weights: Floats) -> Floats:
        """From the log weight of each word (words,) to that of each column: the best word that hangs on it."""
        padded = np.append(weights, np.float32(-np.inf)).astype(np.float32)
        best = np.maximum.reduceat(padded, self._runs)[::2]
        empty = self._runs[::2] == self._runs[1::2]
        best[empty] = -np.inf
        return np.concatenate([best, padded])
