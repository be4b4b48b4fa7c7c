"""How are columns of whole numbers put in order and looked up?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

S = TypeVar("S", bound=np.generic)

_TWO_BYTES = 1 << 16
TINY = 1e-9  # least divisor: what is smaller is a zero but for rounding


def order_of(key: NDArray[np.integer]) -> NDArray[np.intp]:
    """Rows of whole numbers from 0 up, [n], in rising order, equal ones in the order they stand.

    Numbers that fit two bytes are sorted by counting, many times as fast as by comparing.
    """
    small = len(key) > 0 and int(key.max()) < _TWO_BYTES
    return np.argsort(key.astype(np.uint16) if small else key, kind="stable")


def distinct(values: NDArray[S]) -> NDArray[S]:
    """The values of a column, each once, rising.

    What `np.unique` gives, save that its first call imports masked arrays: a tenth of a start.
    """
    ordered = np.sort(values)
    new = np.ones(len(ordered), dtype=bool)
    np.not_equal(ordered[1:], ordered[:-1], out=new[1:])
    return ordered[new]


def median(values: NDArray[np.number]) -> NDArray[np.float64]:
    """Median over the last axis of columns that hold no NaN, as `np.median` without its imports."""
    ordered = np.sort(values, axis=-1)
    count = ordered.shape[-1]
    low, high = (ordered[..., k].astype(np.float64) for k in ((count - 1) // 2, count // 2))
    return np.asarray((low + high) / 2)


def found_in(
    values: NDArray[np.generic], some: NDArray[np.generic] | Sequence[int]
) -> NDArray[np.bool_]:
    """Whether each of some values is among others, in their shape (`np.isin` imports more)."""
    if not len(some):
        return np.zeros(values.shape, dtype=bool)
    ordered = np.sort(some)
    at = np.minimum(np.searchsorted(ordered, values), len(ordered) - 1)
    return np.asarray(ordered[at] == values)


def row_at(
    start: NDArray[np.int64], end: NDArray[np.int64], tick: NDArray[np.int64]
) -> NDArray[np.intp]:
    """Row of the stretch that holds each tick, [n]; −1 where none does.

    Stretches reach from ``start`` to ``end`` (exclusive), are in order and do not overlap.
    """
    if not len(start):
        return np.full(len(tick), -1, dtype=np.intp)
    row = np.searchsorted(start, tick, side="right") - 1
    inside = (row >= 0) & (tick < end[np.maximum(row, 0)])
    return np.where(inside, row, -1)


def last_row(
    start: NDArray[np.int64], tick: NDArray[np.integer] | NDArray[np.floating]
) -> NDArray[np.intp]:
    """Row of the last stretch that has started at each tick, [n]; 0 before the first."""
    return np.maximum(np.searchsorted(start, tick, side="right") - 1, 0)


def among(rows: NDArray[np.integer], some: NDArray[np.integer], size: int) -> NDArray[np.bool_]:
    """Whether each of some whole numbers from 0 up to below ``size`` is among others, [n]."""
    table = np.zeros(size, dtype=bool)
    table[some] = True
    return np.asarray(table[rows])
