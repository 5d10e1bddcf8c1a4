"""The hash tree of an append-only log: RFC 9162, section 2.1 (SHA-256). Pure: hashes in, hashes out.

A log of n leaves is split into complete trees, the largest first, by the bits of n: their roots are its peaks.
"""

import hashlib
from collections.abc import Callable, Sequence
from typing import Final

EMPTY_ROOT: Final = hashlib.sha256(b"").digest()
Span = Callable[[int, int], bytes]
"""The hash of the tree over the leaves from one position up to another."""


def leaf_hash(data: bytes) -> bytes:
    """The hash of one entry."""
    return hashlib.sha256(b"\0" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash of two subtrees."""
    return hashlib.sha256(b"\1" + left + right).digest()


def peak_ends(size: int) -> list[int]:
    """Where the complete trees of a log of `size` leaves end, the largest tree first."""
    ends, end = [], 0
    for bit in range(size.bit_length() - 1, -1, -1):
        if size >> bit & 1:
            end += 1 << bit
            ends.append(end)
    return ends


class Frontier:
    """A growing log: its size and the peaks that are enough to go on; log n hashes for n leaves."""

    def __init__(self, size: int = 0, peaks: Sequence[bytes] = ()) -> None:
        self.size = size
        self._peaks = list(peaks)

    def add(self, leaf: bytes) -> bytes:
        """Take one more leaf; the largest complete tree that ends with it."""
        tree, size = leaf, self.size
        while size & 1:
            tree = node_hash(self._peaks.pop(), tree)
            size >>= 1
        self._peaks.append(tree)
        self.size += 1
        return tree

    @property
    def root(self) -> bytes:
        """The hash of the whole log."""
        return root_of(self._peaks)


def root_of(peaks: Sequence[bytes]) -> bytes:
    """The root over the peaks of a log."""
    if not peaks:
        return EMPTY_ROOT
    root = peaks[-1]
    for peak in reversed(peaks[:-1]):
        root = node_hash(peak, root)
    return root


def span_of(leaves: Sequence[bytes]) -> Span:
    """The hashes of trees over leaf hashes, by the definition (MTH, section 2.1.1)."""

    def span(start: int, end: int) -> bytes:
        if start == end:
            return EMPTY_ROOT
        if end - start == 1:
            return leaves[start]
        middle = start + split(end - start)
        return node_hash(span(start, middle), span(middle, end))

    return span


def split(count: int) -> int:
    """The largest power of two smaller than `count`."""
    return 1 << (count - 1).bit_length() - 1


def inclusion_proof(span: Span, index: int, size: int) -> list[bytes]:
    """The audit path of a leaf (section 2.1.3.1)."""
    return _path(span, index, 0, size)


def _path(span: Span, index: int, start: int, end: int) -> list[bytes]:
    if end - start == 1:
        return []
    middle = start + split(end - start)
    if index < middle:
        return [*_path(span, index, start, middle), span(middle, end)]
    return [*_path(span, index, middle, end), span(start, middle)]


def is_included(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether a proof shows that a leaf is in the log of that root (section 2.1.3.2)."""
    if not 0 <= index < size:
        return False
    node, last, found = index, size - 1, leaf
    for each in proof:
        if last == 0:
            return False
        if node & 1 or node == last:
            found = node_hash(each, found)
            while not node & 1 and node:
                node, last = node >> 1, last >> 1
        else:
            found = node_hash(found, each)
        node, last = node >> 1, last >> 1
    return last == 0 and found == root


def consistency_proof(span: Span, first: int, size: int) -> list[bytes]:
    """That a log of `first` leaves, 1 or more, is a prefix of one of `size` (section 2.1.4.1)."""
    return _subproof(span, first, 0, size, whole=True)


def _subproof(span: Span, first: int, start: int, end: int, *, whole: bool) -> list[bytes]:
    if first == end:
        return [] if whole else [span(start, end)]
    middle = start + split(end - start)
    if first <= middle:
        return [*_subproof(span, first, start, middle, whole=whole), span(middle, end)]
    return [*_subproof(span, first, middle, end, whole=False), span(start, middle)]


def is_consistent(first: int, first_root: bytes, size: int, root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether a proof shows that one log is a prefix of another (section 2.1.4.2)."""
    if not 0 < first <= size:
        return False
    if first == size:
        return not proof and first_root == root
    path = [first_root, *proof] if first & (first - 1) == 0 else list(proof)
    if not path:
        return False
    node, last = first - 1, size - 1
    while node & 1:
        node, last = node >> 1, last >> 1
    old = new = path[0]
    for each in path[1:]:
        if last == 0:
            return False
        if node & 1 or node == last:
            old, new = node_hash(each, old), node_hash(each, new)
            while not node & 1 and node:
                node, last = node >> 1, last >> 1
        else:
            new = node_hash(new, each)
        node, last = node >> 1, last >> 1
    return last == 0 and old == first_root and new == root
