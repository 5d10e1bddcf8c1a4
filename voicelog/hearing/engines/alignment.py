"""Where each word of a phrase lies in the sound, and how badly the letters there fit it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.letters import BLANK, LETTERS, Scores

_SPACE = LETTERS.index(" ")


@dataclass(frozen=True, slots=True)
class AlignedWord:
    """A word with the silence behind it: frames [first, last), and its misfit.

    `misfit` is how much likelier (log, base e, never below 0) the sound there is as whatever letters fit it best than
    as this word. A word that was said in place of this one, or beside it, shows here.
    """

    text: str
    first: int
    last: int
    misfit: float


def aligned(scores: Scores, text: str) -> tuple[AlignedWord, ...]:
    """The words of a text along its likeliest path; none where there are too few frames for it."""
    letters = [LETTERS.index(letter) for letter in text]
    path = _path(scores, letters)
    if path is None:
        return ()
    labels = np.full(2 * len(letters) + 1, BLANK)
    labels[1::2] = letters
    misfits = scores.max(1) - scores[np.arange(len(scores)), labels[path]]
    # A word has the frames from its first letter on, and the first word those before it too.
    word_of = np.cumsum([0, *(letter == _SPACE for letter in letters)])
    own = word_of[np.minimum(path // 2, len(letters) - 1)]
    words = []
    for number, word in enumerate(text.split(" ")):
        frames = np.flatnonzero(own == number)
        if len(frames):
            words.append(AlignedWord(word, int(frames[0]), int(frames[-1]) + 1, float(misfits[frames].sum())))
    return tuple(words)


def _path(scores: Scores, letters: list[int]) -> npt.NDArray[np.int64] | None:
    """For each frame the place among blank, first letter, blank, second letter, ... that the likeliest path is at."""
    labels = np.full(2 * len(letters) + 1, BLANK)
    labels[1::2] = letters
    places = np.arange(len(labels))
    skips = (places > 1) & (labels != BLANK) & (labels != np.roll(labels, 2))
    emitted = scores[:, labels].astype(np.float64)
    reached = np.full(len(labels) + 2, -np.inf)
    best = reached[2:]
    best[:2] = emitted[0, :2]
    came = np.zeros(emitted.shape, np.int8)
    for number in range(1, len(emitted)):
        ways = np.stack([best, reached[1:-1], np.where(skips, reached[:-2], -np.inf)])
        came[number] = ways.argmax(0)
        best[:] = ways[came[number], places] + emitted[number]
    at = len(labels) - 1 - int(best[-2] > best[-1])
    if best[at] == -np.inf:
        return None
    path = np.empty(len(emitted), np.int64)
    for number in range(len(emitted) - 1, -1, -1):
        path[number] = at
        at -= int(came[number, at])
    return path
