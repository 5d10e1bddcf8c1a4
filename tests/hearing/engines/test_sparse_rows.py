"""Rows in blocks give back what was put into them, number by number."""

import numpy as np

from voicelog.hearing.engines.sparse_rows import Floats, SparseRows

_COLUMNS = 137
"""No multiple of any block."""


def _row(random: np.random.Generator) -> Floats:
    """A row with runs of numbers, as words of one letter lie beside one another; some rows are empty, some full."""
    row = np.full(_COLUMNS, -np.inf, np.float32)
    for _ in range(random.integers(0, 5)):
        first = random.integers(0, _COLUMNS)
        row[first : first + random.integers(1, _COLUMNS)] = random.normal(-5.0, 3.0)
    return row


def test_what_is_put_in_comes_out_by_row_and_column_also_where_more_room_was_needed() -> None:
    random = np.random.default_rng(8)
    dense = np.array([_row(random) for _ in range(50)])
    rows = SparseRows(_COLUMNS, room=3)
    for each in dense:
        rows.append(each)
    some = random.integers(0, len(dense), (40, 1))
    columns = random.integers(0, _COLUMNS, (40, 30))

    assert len(rows) == len(dense)
    np.testing.assert_array_equal(rows.at(some, columns), dense[some, columns])
    np.testing.assert_array_equal(np.array([rows.row(number) for number in range(len(dense))]), dense)
    assert np.isfinite(dense).any()
    assert np.isinf(dense).any()
