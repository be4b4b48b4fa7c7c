"""Which line fits a run of onsets best, and which onset fits it worst? Least squares."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Column = NDArray[np.float64]
_TINY = 1e-12  # a spread of no more is none
_LEVER = 1e-9  # what is left of a point's own pull on the line, at least


def line_fit(index: Column, onset: Column) -> tuple[Column, float, float]:
    """Least squares of onset over index: the line, its slope, and the slope's standard error."""
    centred = index - index.mean()
    spread = float(centred @ centred)
    slope = float(centred @ onset) / spread
    line = onset.mean() + slope * centred
    rest = onset - line
    error = float(np.sqrt(rest @ rest / max(len(onset) - 2, 1) / spread))
    return line, slope, error


def best_mix(columns: tuple[Column, ...], onset: Column) -> Column:
    """The nearest mix of the columns (and a constant) to the onsets."""
    table = np.stack((np.ones(len(onset)), *columns), axis=1)
    return np.asarray(table @ np.linalg.solve(table.T @ table, table.T @ onset))


def _running_error(x: Column, y: Column) -> Column:
    """Squared error of the least-squares line through the first k + 1 points, for every k."""
    n = x + 1
    sx, sy, sxx, sxy, syy = (v.cumsum() for v in (x, y, x * x, x * y, y * y))
    spread = np.maximum(sxx - sx * sx / n, _TINY)
    return np.asarray(syy - sy * sy / n - (sxy - sx * sy / n) ** 2 / spread)


def best_split(onset: Column, begin: int, end: int, fewest: int) -> int | None:
    """The hit at which two lines leave the least squared error, ``fewest`` steps to each at least.

    None where hits ``begin`` to ``end`` are too few for that.
    """
    if end - begin < 2 * fewest:
        return None
    x = np.arange(end - begin + 1, dtype=np.float64)
    y = onset[begin : end + 1] - onset[begin]
    ahead = _running_error(x, y)
    behind = _running_error(x, y[::-1])[::-1]
    at = np.arange(fewest, len(x) - fewest)
    return begin + int(at[np.argmin(ahead[at] + behind[at])])


def worst_fitted(index: Column, onset: Column) -> int:
    """The hit without which the line fits the others best."""
    centred = index - index.mean()
    line, _, _ = line_fit(index, onset)
    lever = 1 / len(index) + centred**2 / float(centred @ centred)
    return int(np.argmax((onset - line) ** 2 / np.maximum(1 - lever, _LEVER)))
