"""How are columns of whole numbers put in order and looked up?

Where a song is short, most of the time goes into the Python around NumPy's functions: what is asked
all the time (`rows_where`, `turns`, `differences`) stands here in the few calls that it needs.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

S = TypeVar("S", bound=np.generic)

_TWO_BYTES = 1 << 16
_SPARSE = 16  # as many times the rows: from there a table of all numbers costs more than to sort
_MANY = 1024  # ticks from which on it pays to see whether all cells of a grid are as long
TINY = 1e-9  # least divisor: what is smaller is a zero but for rounding


def order_of(key: NDArray[np.integer]) -> NDArray[np.intp]:
    """Rows of whole numbers from 0 up, [n], in rising order, equal ones in the order they stand.

    Numbers that fit two bytes are sorted by counting, many times as fast as by comparing; others by
    merging, since most are put together of rising stretches: those of tracks, or of keys.
    """
    if not len(key) or np.maximum.reduce(key) < _TWO_BYTES:
        key = key.astype(np.uint16)
    return key.argsort(kind="stable")


def rows_where(mask: NDArray[np.generic]) -> NDArray[np.intp]:
    """Rows at which a mask is true, rising (`np.flatnonzero`, several times as fast)."""
    return mask.ravel().nonzero()[0]


def turns(values: NDArray[np.generic]) -> NDArray[np.bool_]:
    """Whether each value of a column is another than the one before it, [n]; the first is."""
    new = np.empty(len(values), dtype=bool)
    if len(new):
        new[0] = True
        np.not_equal(values[1:], values[:-1], new[1:])
    return new


def ends_of(begin: NDArray[S], last: int) -> NDArray[S]:
    """Where each of some stretches ends that begin at rising places: at the next, or ``last``."""
    end = begin.copy()
    if len(end):
        end[:-1] = begin[1:]
        end[-1] = last
    return end


def differences(values: NDArray[S]) -> NDArray[S]:
    """From each number of a column to the next, [n - 1] (`np.diff`, several times as fast)."""
    return values[1:] - values[:-1]  # type: ignore[operator]  # numbers have it


def distinct(values: NDArray[S]) -> NDArray[S]:
    """The values of a column, each once, rising.

    What `np.unique` gives, save that its first call imports masked arrays: a tenth of a start.
    """
    ordered = values.copy()
    ordered.sort(kind="stable")  # most are put together of rising stretches
    return ordered[turns(ordered)]


def kinds_of(key: NDArray[np.integer]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The different values of whole numbers from 0 up, rising, and which of them each is, [n].

    What `np.unique` gives with its inverse, without comparing where the numbers lie close together.
    """
    top = int(key.max(initial=0))
    if top <= _SPARSE * len(key):
        there = np.zeros(top + 1, dtype=bool)
        there[key] = True
        return there.nonzero()[0], (there.cumsum() - 1)[key]
    order = order_of(key)
    new = turns(key[order])
    which = np.empty(len(key), dtype=np.int64)
    which[order] = new.cumsum() - 1
    return key[order[new]].astype(np.int64), which


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
    ordered = np.sort(some, kind="stable")
    at = np.minimum(ordered.searchsorted(values), len(ordered) - 1)
    return np.asarray(ordered[at] == values)


def within(values: NDArray[S], low: int, high: int) -> NDArray[S]:
    """Whole numbers brought between two bounds (`clip` asks for those of their type each time)."""
    bounded: NDArray[S] = np.minimum(np.maximum(values, low), high)
    return bounded


def parted(values: NDArray[np.int64], size: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Whole numbers from 0 up divided by one: how often it goes in, and what is left over.

    What `divmod` gives, several times as fast for many.
    """
    whole = values // size
    return whole, values - whole * size


def in_columns(values: NDArray[S], column: NDArray[np.integer]) -> NDArray[S]:
    """What each row of ``values`` [n, m] holds in some columns of its own, [n, k], as ``column``.

    What `np.take_along_axis` gives along the rows, in a fraction of its calls.
    """
    begin = np.arange(len(values))[:, None] * values.shape[1]
    return np.asarray(values.ravel().take(begin + column))


def windows(values: NDArray[S], size: int) -> NDArray[S]:
    """Each ``size`` successive values of the last axis, from each place on at which there are so
    many, [..., n - size + 1, size]: a view, to read from. ``values`` lie in memory as a whole."""
    *lead, count = values.shape
    *strides, step = values.strides
    shape, strides = (*lead, max(count - size + 1, 0), size), [*strides, step, step]
    return np.ndarray(shape, values.dtype, values, 0, strides)


def row_at(
    start: NDArray[np.int64], end: NDArray[np.int64], tick: NDArray[np.int64]
) -> NDArray[np.intp]:
    """Row of the stretch that holds each tick, [n]; −1 where none does.

    Stretches reach from ``start`` to ``end`` (exclusive), are in order and do not overlap.
    """
    if not len(start):
        return np.full(len(tick), -1, dtype=np.intp)
    row = start.searchsorted(tick, "right") - 1
    return np.where(tick < end[row], row, -1)  # −1, before the first, is so either way


def cell_of(edges: NDArray[np.int64], tick: NDArray[np.int64]) -> NDArray[np.int64]:
    """Cell of a grid that each tick lies in, in its shape; the first or the last outside the grid.

    ``edges`` [cells + 1] rise. Where all cells are as long, many ticks are divided, several times
    as fast as they are looked up.
    """
    if tick.size > _MANY:
        size = edges[1] - edges[0]
        if (differences(edges) == size).all():
            return within((tick - edges[0]) // size, 0, len(edges) - 2)
    return np.asarray(edges[1:-1].searchsorted(tick, "right"), dtype=np.int64)


def last_row(
    start: NDArray[np.int64], tick: NDArray[np.integer] | NDArray[np.floating]
) -> NDArray[np.intp]:
    """Row of the last stretch that has started at each tick, [n]; 0 before the first."""
    return np.maximum(start.searchsorted(tick, "right") - 1, 0)


def among(rows: NDArray[np.integer], some: NDArray[np.integer], size: int) -> NDArray[np.bool_]:
    """Whether each of some whole numbers from 0 up to below ``size`` is among others, [n]."""
    table = np.zeros(size, dtype=bool)
    table[some] = True
    return np.asarray(table[rows])


def unpaired(mine: NDArray[S], theirs: NDArray[S]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows of either table, [n, k] and [m, k], that no equal row of the other one answers; of equal
    ones the last."""
    whole = np.concatenate((mine, theirs))
    if not len(whole):
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    of_mine = np.arange(len(whole)) < len(mine)
    order = np.lexsort((~of_mine, *whole.T))
    same = (np.diff(whole[order], axis=0) == 0).all(axis=1)
    group = np.cumsum(np.append(True, ~same)) - 1
    here = of_mine[order]
    count = np.stack([np.bincount(group, side) for side in (here, ~here)]).astype(np.int64)
    begin = np.cumsum(count.sum(axis=0)) - count.sum(axis=0)
    turn = np.arange(len(order)) - begin[group]  # within its group: mine come first
    turn = np.where(here, turn, turn - count[0][group])
    alone = turn >= count.min(axis=0)[group]
    left = np.sort(order[alone])
    return left[left < len(mine)], left[left >= len(mine)] - len(mine)
