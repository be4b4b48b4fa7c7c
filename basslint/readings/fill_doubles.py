"""Which drum fill doubles a bass fill, hit by hit?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column

# A double of a roll has the same step to within a tenth; a triplet grid is a third away.
SAME_STEP = 0.1
_LEAST, _MOST = np.exp(-SAME_STEP), np.exp(SAME_STEP)


def drum_double(chart: Chart, row: int) -> int:
    """The drum fill that doubles bass fill ``row``: most of the same time, the same step; or −1."""
    fills = chart.fills
    if fills.drums[row] or not len(fills):
        return -1
    shared = np.minimum(fills.end, fills.end[row]) - np.maximum(fills.start, fills.start[row])
    step = fills.step[row]  # 0 where all is struck at once
    alike = (fills.step > _LEAST * step) & (fills.step < _MOST * step)
    shared = np.where(fills.drums & alike, shared, 0)
    best = int(np.argmax(shared))
    return best if 2 * shared[best] >= fills.end[row] - fills.start[row] else -1


@once_per_chart
def drum_doubles(chart: Chart) -> NDArray[np.int64]:
    """`drum_double` of every fill, int64 [f]."""
    rows = [drum_double(chart, row) for row in range(len(chart.fills))]
    return np.array(rows, dtype=np.int64)


def doubled_hits(chart: Chart, row: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Hits of bass fill ``row`` and the drum hits that double them, rows of song.notes, [m] each.

    Hits further apart than half a step are no doubles of each other.
    """
    fills, notes = chart.fills, chart.song.notes
    double = drum_double(chart, row)
    if double < 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    mine, theirs = fills.notes[row], fills.notes[double]
    away = np.abs(notes.start[mine][:, None] - notes.start[theirs][None, :])
    near = np.argmin(away, axis=1)
    kept = away[np.arange(len(mine)), near] <= 0.5 * fills.step[row] * chart.song.division
    return mine[kept], theirs[near[kept]]


def step_s(chart: Chart) -> Column:
    """Length of the steps of each fill in seconds, [f]."""
    tempo, fills = chart.song.tempo, chart.fills
    return np.asarray(fills.step * tempo.usec_at(fills.start) / 1e6)
