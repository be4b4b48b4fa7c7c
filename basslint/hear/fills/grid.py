"""Which grids do rolls stand on, and what can the steps of a roll be?"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from basslint.util.records import record

Kind = Literal["equal", "swung", "mixed", "gliding", "uneven"]
Column = NDArray[np.float64]

# Steps in quarter notes: a sixteenth is a quarter of a quarter, a triplet packs three into two.
GRIDS: tuple[tuple[str, float], ...] = (
    ("1/16", 1 / 4),
    ("1/16 triplet", 1 / 6),
    ("1/32", 1 / 8),
    ("1/32 triplet", 1 / 12),
    ("1/64", 1 / 16),
    ("1/64 triplet", 1 / 24),
    ("1/128", 1 / 32),
)
STEPS: Column = np.array([step for _, step in GRIDS])
_NO_STEP = STEPS.min() / 1024  # quarters: hits on one tick have no step at all


@record(eq=False, kw_only=True)
class Steps:
    """What a run of n hits is made of.

    ``kind``: "equal", "swung", "mixed", "gliding" (speeding up or slowing down), "uneven".
    ``grid``: a name of `GRIDS`, "free" or "mixed". ``step``: quarter notes from hit to hit (the
    median where they differ). ``ideal`` [n]: where each hit would fall, in quarter notes, on the
    clock of the onsets given. ``cuts``: indexes of the hits at which one stretch of equal steps
    ends and the next begins, first and last hit included.
    """

    kind: Kind
    grid: str
    step: float
    ideal: Column
    cuts: tuple[int, ...]


def median(values: Column) -> float:
    """The median of a few values; NumPy's own costs ten times as much."""
    ordered = np.sort(values)
    return float(ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2


def nearest_grid(step: float) -> int:
    """Index into `GRIDS` of the grid nearest to a step in quarter notes, by ratio."""
    return int(np.argmin(np.abs(np.log(STEPS / max(step, _NO_STEP)))))
