"""The hash tree against the vectors of the public Certificate Transparency code, and against its own definition."""

import hashlib
from itertools import product

import pytest
from pymerkle import InmemoryTree

from voicelog.record.merkle import (
    EMPTY_ROOT,
    Frontier,
    consistency_proof,
    inclusion_proof,
    is_consistent,
    is_included,
    leaf_hash,
    peak_ends,
    root_of,
    span_of,
)

# Entries and roots of the Certificate Transparency reference tests (github.com/google/certificate-transparency, merkle
# tree test; github.com/transparency-dev/merkle has the same).
ENTRIES = [
    bytes.fromhex(each)
    for each in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = (
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
)
LEAVES = [leaf_hash(each) for each in ENTRIES]


def test_the_root_of_nothing_is_the_hash_of_nothing() -> None:
    assert EMPTY_ROOT.hex() == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert root_of([]) == span_of([])(0, 0) == EMPTY_ROOT


@pytest.mark.parametrize("size", range(1, 9))
def test_roots_are_those_of_the_reference(size: int) -> None:
    """Grown leaf by leaf, built at once, and grown on from the trees that were kept on the way."""
    frontier = Frontier()
    trees = [frontier.add(leaf) for leaf in LEAVES[:size]]

    assert frontier.root.hex() == ROOTS[size - 1]
    assert root_of([trees[end - 1] for end in peak_ends(size)]).hex() == ROOTS[size - 1]
    assert span_of(LEAVES)(0, size).hex() == ROOTS[size - 1]


def test_roots_and_paths_are_those_of_another_library() -> None:
    """pymerkle 7 (PyPI), which shares no code with this. Its consistency proofs are of another form than the RFC's."""
    other = InmemoryTree(algorithm="sha256")
    entries = [hashlib.sha256(bytes([each])).digest() for each in range(40)]
    leaves = [leaf_hash(each) for each in entries]
    span, frontier = span_of(leaves), Frontier()
    for size, entry in enumerate(entries, start=1):
        other.append_entry(entry)
        frontier.add(leaves[size - 1])
        root = other.get_root()
        assert root == span(0, size) == frontier.root
        for index in range(size):
            proof = inclusion_proof(span, index, size)
            path = other.prove_inclusion(index + 1, size).serialize()["path"]
            assert {leaves[index].hex(), *(each.hex() for each in proof)} == set(path)
            assert is_included(leaves[index], index, size, proof, root)
        for first in range(1, size):
            proof = consistency_proof(span, first, size)
            assert is_consistent(first, other.get_root(first), size, root, proof)


def test_every_leaf_is_proved_and_nothing_else() -> None:
    leaves = [leaf_hash(bytes([each])) for each in range(20)]
    span = span_of(leaves)
    for size in range(1, 20):
        for index, other in product(range(size), range(size)):
            proof = inclusion_proof(span, index, size)
            assert is_included(leaves[other], index, size, proof, span(0, size)) == (index == other)
            assert not is_included(leaves[index], index, size, [*proof, b"x" * 32], span(0, size))


def test_every_prefix_is_proved_and_nothing_else() -> None:
    leaves = [leaf_hash(bytes([each])) for each in range(20)]
    span = span_of(leaves)
    for size in range(1, 20):
        for first in range(1, size + 1):
            proof = consistency_proof(span, first, size)
            assert is_consistent(first, span(0, first), size, span(0, size), proof)
            assert not is_consistent(first, span(1, first + 1), size, span(0, size), proof)
            assert not is_consistent(first, span(0, first), size, span(0, size), [*proof, b"x" * 32])
