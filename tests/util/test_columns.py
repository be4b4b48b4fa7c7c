"""Columns are put in order and looked up as numpy's own slower ways would do it."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from numpy.typing import NDArray

from basslint.util.columns import (
    cell_of,
    differences,
    distinct,
    found_in,
    in_columns,
    kinds_of,
    median,
    order_of,
    parted,
    rows_where,
    turns,
    unpaired,
    windows,
    within,
)

COLUMNS = [
    np.array([], dtype=np.int64),
    np.array([7], dtype=np.int64),
    np.array([3, 1, 3, 2, 1, 1], dtype=np.int32),
    np.array([120, 127, 100, 126], dtype=np.int8),  # two of them are more than a byte holds
    np.array([10**12, -5, 0, 10**12, 4], dtype=np.int64),
    np.array([0.5, 0.25, 0.5, -1.0]),
]


@pytest.mark.parametrize("column", COLUMNS)
def test_each_value_once_and_rising(column: NDArray[np.int64]) -> None:
    told = distinct(column)
    assert told.dtype == column.dtype
    assert told.tolist() == np.unique(column).tolist()


@pytest.mark.parametrize(
    "column",
    [
        *COLUMNS[:4],
        np.array([0, 0, 0]),
        np.array([5, 10**6, 5, 0]),  # too sparse for a table
        np.array([2**61, 3, 2**61, 2**60]),
        np.array([70_000, 1, 70_000, 69_999]),
    ],
)
def test_kinds_are_numbered_as_numpy_numbers_them(column: NDArray[np.int64]) -> None:
    kinds, which = kinds_of(column)
    expected, inverse = np.unique(column, return_inverse=True)
    assert (kinds.tolist(), which.tolist()) == (expected.tolist(), inverse.tolist())


@pytest.mark.parametrize("column", COLUMNS[1:])
def test_the_median_is_numpys(column: NDArray[np.int64]) -> None:
    assert float(median(column)) == float(np.median(column))
    rows = np.stack([column, column[::-1], column * 0])
    assert median(rows).tolist() == np.median(rows, axis=1).tolist()


@pytest.mark.parametrize("column", COLUMNS)
@pytest.mark.parametrize("some", COLUMNS)
def test_what_is_among_others_is_numpys(column: NDArray[np.int64], some: NDArray[np.int64]) -> None:
    assert found_in(column, some).tolist() == np.isin(column, some).tolist()


@pytest.mark.parametrize("column", COLUMNS)
def test_what_is_asked_of_neighbours_is_numpys(column: NDArray[np.int64]) -> None:
    assert differences(column).tolist() == np.diff(column).tolist()
    other = [k == 0 or column[k] != column[k - 1] for k in range(len(column))]
    assert turns(column).tolist() == other


@pytest.mark.parametrize("column", COLUMNS)
def test_bounds_are_kept_as_numpy_keeps_them(column: NDArray[np.int64]) -> None:
    assert within(column, 1, 100).dtype == column.dtype
    assert within(column, 1, 100).tolist() == column.clip(1, 100).tolist()


def test_whole_numbers_are_parted_as_divmod_parts_them() -> None:
    values = np.array([0, 11, 12, 25, 10**12])
    assert [column.tolist() for column in parted(values, 12)] == [
        column.tolist() for column in np.divmod(values, 12)
    ]


@pytest.mark.parametrize("mask", [np.zeros(0, bool), np.array([1, 0, 1]), np.eye(3), np.eye(3).T])
def test_rows_at_which_a_mask_holds_are_numpys(mask: NDArray[np.bool_]) -> None:
    assert rows_where(mask).tolist() == np.flatnonzero(mask).tolist()


@pytest.mark.parametrize("top", [9, 1 << 15, 1 << 17, 1 << 40, 1 << 61])
@pytest.mark.parametrize("count", [0, 1, 2, 700])
def test_rows_come_in_order_and_equal_ones_as_they_stand(top: int, count: int) -> None:
    key = np.random.default_rng(count).integers(0, top, count)
    key = np.concatenate((key, key[::2]))
    assert order_of(key).tolist() == np.argsort(key, kind="stable").tolist()


@pytest.mark.parametrize(
    "edges",
    [
        np.arange(9) * 240,  # all cells are as long
        np.arange(9) * 240 + 480,  # ... and begin later
        np.array([0, 240, 480, 700, 960]),
        np.array([0, 1920]),
    ],
)
@pytest.mark.parametrize("times", [1, 400])  # a few ticks, and many
def test_a_tick_lies_in_the_last_cell_that_has_begun(edges: NDArray[np.int64], times: int) -> None:
    ticks = np.tile(np.array([-700, -1, 0, 239, 240, 241, 700, 1919, 1920, 9999]), times)
    cells = len(edges) - 1
    wanted = [max((k for k in range(cells) if edges[k] <= t), default=0) for t in ticks]
    assert cell_of(edges, ticks).tolist() == wanted


@pytest.mark.parametrize("size", [1, 3, 5, 6])
@pytest.mark.parametrize("shape", [(5,), (2, 5)])
def test_windows_are_numpys(shape: tuple[int, ...], size: int) -> None:
    values = np.arange(np.prod(shape) * 1.0).reshape(shape)
    seen = windows(values, size)
    assert seen.shape == (*shape[:-1], max(6 - size, 0), size)
    if size <= 5:
        view = np.lib.stride_tricks.sliding_window_view(values, size, axis=-1)
        assert seen.tolist() == view.tolist()


def test_each_row_is_read_in_columns_of_its_own() -> None:
    values = np.array([[1, 2, 3], [4, 5, 6]])
    assert in_columns(values, np.array([[2, 0], [1, 1]])).tolist() == [[3, 1], [5, 5]]
    turned = in_columns(values.T, np.array([[1], [0], [1]]))  # not as it lies in memory
    assert turned.tolist() == [[4], [2], [6]]


@pytest.mark.parametrize("counts", [(0, 0), (0, 3), (3, 0), (40, 40), (60, 20)])
def test_rows_are_paired_as_counters_pair_them(counts: tuple[int, int]) -> None:
    random = np.random.default_rng(sum(counts))
    mine, theirs = (random.integers(0, 3, (count, 2)) / 2 for count in counts)
    gone, new = unpaired(mine, theirs)
    one, other = (Counter(map(tuple, rows.tolist())) for rows in (mine, theirs))
    assert Counter(map(tuple, mine[gone].tolist())) == one - other
    assert Counter(map(tuple, theirs[new].tolist())) == other - one
    last = np.array([[1.0, 2.0], [0.0, 1.0], [1.0, 2.0]])
    assert unpaired(last, last[:1])[0].tolist() == [1, 2], "of equal ones the last"
