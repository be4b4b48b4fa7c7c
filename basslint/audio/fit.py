"""Do the strokes of a loop lie on its grid?

A loop that is told to begin where it does not is heard with chords that straddle its eighths: then
nothing it says about roots can be relied on, and saying so helps more than judging.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.strokes import STROKE_S

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

_AGREE = 0.35  # vector strength of the strokes about an eighth: less is no steady stroke
# Slow strings and choirs are struck up to 64 ms late in 99 % of 132 loops (tests/bench/loops.py).
_LATE_S = 0.07
_LATE_SHARE = 0.2  # of an eighth: less is how people play
# A loop that swings has most of its strokes late, and others on its quarters. Of 116 loops .05 to
# .17 of the strokes lie there where a grid that was laid wrong is told, .25 where one swings.
_ON_QUARTERS = 0.2
_NEAR_QUARTER = 1 / 12  # of a quarter to either side: what a triplet's other notes stay clear of
# One whose quarters are mostly left out has its strokes on the places of triplets: of 1,034 grids
# that were laid wrong and are told, one keeps so many on both, as a loop of a musicbox does.
_SOME_ON_QUARTERS, _ON_TRIPLETS, _NEAR_TRIPLET = 0.14, 0.7, 1 / 15


def grid_error(strength: Singles, edges_s: Floats) -> float | None:
    """Seconds from the grid to the strokes (later is above 0), None where they fit.

    ``strength`` as from `stroke_strength`; ``edges_s`` the eighths, evenly spaced. Strokes that
    agree on no place of the eighth tell nothing: None. A grid that is off by whole eighths fits,
    and one that a good part keeps on its quarters.
    """
    eighth = float(edges_s[-1] - edges_s[0]) / (len(edges_s) - 1)
    time = np.arange(len(strength)) * STROKE_S
    inside = (time >= edges_s[0] - eighth / 2) & (time < edges_s[-1])
    hard = np.maximum(strength[inside] - np.median(strength), 0.0).astype(np.float64)
    total = float(hard.sum())
    if total <= 0.0:
        return None
    turn = np.exp(2j * np.pi * (time[inside] - edges_s[0]) / eighth)
    mean = complex((hard * turn).sum()) / total
    off = float(np.angle(mean)) / (2.0 * np.pi) * eighth
    clear = abs(mean) >= _AGREE and abs(off) > max(_LATE_S, _LATE_SHARE * eighth)
    beside = np.abs((((time[inside] - edges_s[0]) / (2.0 * eighth)) + 0.5) % 1.0 - 0.5)
    on_quarters = float(hard[beside < _NEAR_QUARTER].sum()) / total
    on_triplets = float(hard[np.abs((3.0 * beside + 0.5) % 1.0 - 0.5) < 3.0 * _NEAR_TRIPLET].sum())
    swings = on_quarters >= _ON_QUARTERS
    swings |= on_quarters >= _SOME_ON_QUARTERS and on_triplets >= _ON_TRIPLETS * total
    return off if clear and not swings else None
