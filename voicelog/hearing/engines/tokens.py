"""The text side of the neural recogniser: its vocabulary and its way of cutting words into pieces.

The packaged `tokenizer.bin` is a byte-pair vocabulary of 32,768 pieces, each a length (one byte, or two when
the first is 128 or more) and its bytes. Piece order is merge order. Ids below 259 are control and single-byte
pieces; a space before a word is written U+2581. Found by trial and held by tests.
"""

from bisect import bisect_left
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from voicelog.errors import MissingPartError

BEGIN, END = 1, 2
SPACE = "\u2581"
_FIRST_PIECE = 259
_FIRST_BYTE = 3


class Tokeniser:
    """Words to piece ids and back.

    The pieces lie in one array, in order of their bytes as well: as objects of their own they take 4 MB.
    """

    def __init__(self, pieces: list[bytes]) -> None:
        self._data = b"".join(pieces)
        self._ends = np.cumsum([0, *map(len, pieces)]).astype(np.int32)
        # The first of two that are alike counts: the order is a stable one.
        self._sorted = np.array(
            sorted(range(_FIRST_PIECE, len(pieces)), key=lambda number: pieces[number]), np.uint16
        )
        self.encode = cache(self._encode)

    def __len__(self) -> int:
        return len(self._ends) - 1

    def piece(self, number: int) -> bytes:
        """The bytes of a piece."""
        return self._data[self._ends[number] : self._ends[number + 1]]

    def _id(self, piece: bytes) -> int | None:
        """The number of a piece; None where there is none."""
        at = bisect_left(self._sorted, piece, key=self.piece)
        number = int(self._sorted[at]) if at < len(self._sorted) else None
        return number if number is not None and self.piece(number) == piece else None

    @classmethod
    def read(cls, path: Path) -> "Tokeniser":
        """Read the packaged vocabulary. Raises MissingPartError when it is not one."""
        data = path.read_bytes()
        pieces: list[bytes] = []
        place = 0
        while place < len(data):
            length = data[place]
            place += 1
            if length >= 128:
                length += 128 * data[place] - 128
                place += 1
            pieces.append(data[place : place + length])
            place += length
        if len(pieces) <= _FIRST_PIECE or place != len(data):
            raise MissingPartError(
                f"{path.name} is damaged; reinstall with: pip install --force-reinstall moonshine-voice"
            )
        return cls(pieces)

    def _encode(self, text: str) -> tuple[int, ...]:
        """Piece ids of a text as given (spaces already as U+2581): join the earliest-learnt pair until none is left."""
        parts = [char.encode() for char in text]
        while True:
            pairs = [(self._id(a + b), i) for i, (a, b) in enumerate(pairwise(parts))]
            known = [(rank, i) for rank, i in pairs if rank is not None]
            if not known:
                break
            _, at = min(known)
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
        ids: list[int] = []
        for part in parts:
            known_as = self._id(part)
            ids += [_FIRST_BYTE + byte for byte in part] if known_as is None else [known_as]
        return tuple(ids)

    def decode(self, ids: list[int] | tuple[int, ...]) -> str:
        """The text of piece ids; control pieces give nothing."""
        data = b"".join(self.piece(number) for number in ids if number >= _FIRST_BYTE)
        return data.decode("utf-8", errors="replace").replace(SPACE, " ").strip()


def spelled_words(tokeniser: Tokeniser, phrase: str) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Words and their pieces, as the decoder writes a sentence; what an apostrophe joins has no space before it."""
    for number, word in enumerate(phrase.replace("'", " '").split(" ")):
        spelled = word.lower() if number else word.capitalize()
        yield word, tokeniser.encode(word if word.startswith("'") else SPACE + spelled)


def pieces_of(tokeniser: Tokeniser, phrase: str) -> tuple[int, ...]:
    """The pieces of a phrase written as a sentence, and its end."""
    own = [piece for _, pieces in spelled_words(tokeniser, phrase) for piece in pieces]
    return (*own, *tokeniser.encode("."), END)
