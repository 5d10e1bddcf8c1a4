"""Rows of log weights of which most are minus infinity, kept in blocks of columns: empty blocks take no room."""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

_BITS = 4
_BLOCK = 1 << _BITS
"""Columns of a block: with 16 the sets of a grammar take half of what whole rows do; with 8 or 32 no less."""


class SparseRows:
    """Rows by number, shape (rows, columns). Room is set aside once: what is not used yet takes no memory."""

    def __init__(self, columns: int, room: int) -> None:
        self._columns = columns
        self._blocks = -(-columns // _BLOCK)
        self._rows = 0
        self._used = _BLOCK
        # The block at 0 is the empty one; `_starts` says where in `_values` each block of a row begins.
        self._starts = np.zeros((room, self._blocks), np.int32)
        self._values: Floats = np.empty((room * self._blocks + 1) * _BLOCK, np.float32)
        self._values[:_BLOCK] = -np.inf

    def __len__(self) -> int:
        return self._rows

    def append(self, values: Floats) -> None:
        """One more row, shape (columns,)."""
        if self._rows == len(self._starts):
            self._starts = np.concatenate([self._starts, np.zeros_like(self._starts)])
            self._values = np.concatenate([self._values, np.empty_like(self._values)])
        padded = np.full(self._blocks * _BLOCK, -np.inf, np.float32)
        padded[: self._columns] = values
        blocks = padded.reshape(-1, _BLOCK)
        filled = np.flatnonzero((blocks > -np.inf).any(1))
        end = self._used + len(filled) * _BLOCK
        self._values[self._used : end] = blocks[filled].ravel()
        self._starts[self._rows, filled] = np.arange(self._used, end, _BLOCK)
        self._used = end
        self._rows += 1

    def at(self, rows: npt.NDArray[np.integer], columns: npt.NDArray[np.integer]) -> Floats:
        """Weights by row and column; the two are broadcast."""
        found: Floats = self._values.take(self._starts[rows, columns >> _BITS] + (columns & (_BLOCK - 1)))
        return found

    def row(self, number: int) -> Floats:
        """A whole row, shape (columns,)."""
        every = self._starts[number][:, None] + np.arange(_BLOCK)
        found: Floats = self._values.take(every.ravel()[: self._columns])
        return found
