"""From which bar to which does a stretch run that several windows of bars ask for?"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def joined(
    asking: list[tuple[int, int, int, float]], bars: int
) -> list[tuple[int, int, int, float]]:
    """Windows that ask for one shift and touch, as one each, in order of time."""
    found: list[tuple[int, int, int, float]] = []
    for begin, end, by, sure in sorted(asking, key=lambda row: (row[2], row[:2])):
        if found and found[-1][2] == by and begin <= found[-1][1]:
            before, until, _, chance = found.pop()
            begin, end, sure = before, max(until, end), max(sure, chance)
        found.append((begin, min(end, bars), by, sure))
    return sorted(found)


def best_run(gain: NDArray[np.float64]) -> tuple[int, int]:
    """The run of bars, from and to, with the largest sum: a window reaches over a shift's ends."""
    total = np.concatenate(([0.0], np.cumsum(gain)))
    lowest = np.minimum.accumulate(total)
    end = int(np.argmax(total - lowest))
    return int(np.argmin(total[: end + 1])), end


def sums_to(column: Floats) -> Floats:
    """The sum of a column [n, …] up to each row, [n + 1, …]."""
    return np.concatenate((np.zeros((1, *column.shape[1:])), column.cumsum(axis=0)))


def sums_between(so_far: Floats, edges: NDArray[np.intp]) -> tuple[Floats, Any]:
    """Sums from row to row, [w, …], and of all rows; ``so_far`` by `sums_to`, ``edges`` [2, w]."""
    return so_far[edges[1]] - so_far[edges[0]], so_far[-1]
