"""Does the bass lie off the kick the same way each time: a player's feel, or a slip?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.charting import Chart
from basslint.hear.grid import median
from basslint.readings.against_parts import kick_offset
from basslint.readings.base import Column, once_per_chart, reading
from basslint.readings.notes import bar_and_place

_FLAM_MS = 40.0  # further off it is another stroke of the rhythm, and says nothing of the feel
_ALIKE_MS = 5.0  # two offsets that differ by less are one habit: human timing scatters as far
_NEARLY_ALL = 0.8  # share of the strokes that must keep to it
_FEWEST = 4  # strokes that make a habit
_PLACES = 4  # places in a quarter


@reading("bass-note", unit="ms")
def usual_kick_offset(chart: Chart) -> Column:
    """How long after the kick notes like it usually start, negative before it; 0 for no habit.

    Notes like it: those of its part on the same sixteenth of the bar, or else all of its part that
    lie within 40 ms of a kick. A habit: four in five or more of them, and four at least, lie within
    5 ms of their median.
    """
    return _usual(chart)


@reading("bass-note", unit="ms")
def kick_stray(chart: Chart) -> Column:
    """How far its start lies from where notes like it usually start beside the kick."""
    return np.round(np.abs(kick_offset(chart) - _usual(chart)), 1)


@reading("bass-note", unit="yes or no")
def first_with_feel(chart: Chart) -> Column:
    """Is it the first note of its part that keeps a habit of 3 ms or more beside the kick?"""
    offset, usual = kick_offset(chart), _usual(chart)
    with np.errstate(invalid="ignore"):
        keeps = (np.abs(usual) >= _HEARD_MS) & (np.abs(offset - usual) < _ALIKE_MS)
    rows = np.flatnonzero(keeps)
    column = np.zeros(len(offset), dtype=bool)
    column[rows[np.unique(chart.bass.part[rows], return_index=True)[1]]] = True
    return column


_HEARD_MS = 3.0  # below it the two waves still start as one


@once_per_chart
def _usual(chart: Chart) -> NDArray[np.float64]:
    bass = chart.bass
    offset = kick_offset(chart)
    usual = np.zeros(len(bass))
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero(np.abs(offset) <= _FLAM_MS)
    if not len(rows):
        return usual
    _, place = bar_and_place(chart, bass.start[rows], _PLACES)
    part = bass.part[rows].astype(np.int64)
    for group in (part, part * (int(place.max()) + 1) + place):
        order = np.argsort(group, kind="stable")
        for mine in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
            own = offset[rows[mine]]
            middle = median(own)
            if len(mine) >= _FEWEST and np.mean(np.abs(own - middle) < _ALIKE_MS) >= _NEARLY_ALL:
                usual[rows[mine]] = middle
    return usual
