"""How long does each line sound in each cell of a grid?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Position = tuple[NDArray[np.int64], Floats]  # cells from 0, and shares of them that have passed


def sounding_per_cell(
    ends: Position, line: NDArray[np.integer] | int, lines: int, cells: int
) -> Floats:
    """Time that the notes of each line sound in each cell, in cells, [cells, lines].

    ``ends`` [2, n]: where each note begins and where it ends; ``line`` [n]: the line of each note,
    below ``lines``; notes that sound together add up. The sounding time up to a moment is piecewise
    linear, so each note needs only its two ends: linear in notes and cells. Rounding may leave a
    cell a trifle below 0.
    """
    cell, passed = ends
    shape = (2, 2, passed.shape[1])  # begin and end, in the cell and from the next one on
    at, change = np.empty(shape, dtype=np.int64), np.empty(shape)
    np.add(cell * lines, line, out=at[:, 0])
    np.add(at[:, 0], lines, out=at[:, 1])
    # of a cell in which a note begins, what is left; the whole again from the next cell on
    np.subtract(1.0, passed, out=change[:, 0])
    change[:, 1] = passed
    np.negative(change[1], out=change[1])
    total = np.bincount(at.ravel(), change.ravel(), minlength=(cells + 1) * lines)
    return np.asarray(total.reshape(cells + 1, lines)[:-1].cumsum(axis=0))
