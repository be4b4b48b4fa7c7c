"""How long does each line sound in each cell of a grid?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Position = tuple[NDArray[np.int64], Floats]  # cells from 0, and shares of them that have passed


def sounding_per_cell(
    begin: Position, end: Position, line: NDArray[np.integer] | int, lines: int, cells: int
) -> Floats:
    """Time that the notes of each line sound in each cell, in cells, [cells, lines].

    ``begin`` and ``end`` are columns of one length, ``line`` the line of each note, below
    ``lines``; notes that sound together add up. The sounding time up to a moment is piecewise
    linear, so each note needs only its two ends: linear in notes and cells. Rounding may leave a
    cell a trifle below 0.
    """
    starts, stops = begin[0] * lines + line, end[0] * lines + line
    at = np.concatenate((starts, starts + lines, stops, stops + lines))
    # of a cell in which a note begins, what is left; the whole again from the next cell on
    change = np.concatenate((1.0 - begin[1], begin[1], end[1] - 1.0, -end[1]))
    total = np.bincount(at, change, minlength=(cells + 1) * lines)
    return np.asarray(np.cumsum(total.reshape(cells + 1, lines)[:-1], axis=0))
