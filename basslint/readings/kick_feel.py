"""Does the bass lie off the kick the same way each time: a player's feel, or a slip?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.fills.grid import median
from basslint.readings.against_parts import kick_offset
from basslint.readings.base import Column, once_per_chart, reading
from basslint.readings.notes import bar_and_place

_FLAM_MS = 40.0  # further off it is another stroke of the rhythm, and says nothing of the feel
_ALIKE_MS = 5.0  # two offsets that differ by less are one habit: human timing scatters as far
_MOST_TICKS = 1.5  # a coarse file's rounding sets the same offset down a tick apart, not two
_NEARLY_ALL = 0.8  # share of the strokes that must keep to it
_FEWEST = 4  # strokes that make a habit
_PLACES = 4  # places in a quarter
_LOOSE = 8  # strokes from which a part that keeps no habit still has a middle
_NORMAL = 1.4826  # median absolute deviation to standard deviation, for a normal spread
_LEAST_SPREAD_MS = 1.0  # of a part that was drawn on the grid


@reading("bass-note", unit="ms")
def usual_kick_offset(chart: Chart) -> Column:
    """How long after the kick notes like it usually start, negative before it.

    Notes like it: those of its part on the same sixteenth of the bar, or else all of its part that
    lie within 40 ms of a kick. A habit: four in five or more of them, and four at least, lie within
    5 ms of their median, or within a tick of the file where that is longer. Where there is none,
    the median of eight notes or more, which is the middle of a loose hand's scatter, else 0.
    """
    return _usual(chart)


@reading("bass-note", unit="ms")
def kick_stray(chart: Chart) -> Column:
    """How far its start lies from where notes like it usually start beside the kick.

    Nothing where it is a tick of the file or less, which is as exactly as the file can say it.
    """
    away = np.abs(kick_offset(chart) - _usual(chart))
    with np.errstate(invalid="ignore"):
        return np.round(np.where(away < _MOST_TICKS * _tick_ms(chart), 0.0, away), 1)


@reading("bass-note", unit="spreads", source="median absolute deviation, as of a normal spread")
def kick_spreads(chart: Chart) -> Column:
    """How many times the usual scatter of its part it strays from its usual place by the kick."""
    offset, usual = kick_offset(chart), _usual(chart)
    with np.errstate(invalid="ignore"):
        near = np.abs(offset) <= _FLAM_MS
    spread = np.full(len(offset), _LEAST_SPREAD_MS)
    for part in np.unique(chart.bass.part[near]).tolist():
        mine = near & (chart.bass.part == part)
        away = np.abs(offset[mine] - usual[mine])
        if len(away) >= _FEWEST:
            spread[chart.bass.part == part] = max(_NORMAL * median(away), _LEAST_SPREAD_MS)
    return np.asarray(np.abs(offset - usual) / spread)


@reading("bass-note", unit="yes or no")
def first_with_feel(chart: Chart) -> Column:
    """Is it the first note of its part that keeps a habit of 3 ms or more beside the kick?"""
    offset, usual = kick_offset(chart), _usual(chart)
    with np.errstate(invalid="ignore"):
        keeps = (np.abs(usual) >= _HEARD_MS) & (np.abs(offset - usual) < _alike_ms(chart))
    rows = np.flatnonzero(keeps)
    column = np.zeros(len(offset), dtype=bool)
    column[rows[np.unique(chart.bass.part[rows], return_index=True)[1]]] = True
    return column


_HEARD_MS = 3.0  # below it the two waves still start as one


def _tick_ms(chart: Chart) -> NDArray[np.float64]:
    """How long a tick lasts at each bass note."""
    usec = chart.song.tempo.usec_at(chart.bass.start)
    return np.asarray(usec / (1000.0 * chart.song.division))


def _alike_ms(chart: Chart) -> NDArray[np.float64]:
    """How much less than this two offsets of one habit differ, at each bass note."""
    return np.maximum(_ALIKE_MS, _MOST_TICKS * _tick_ms(chart))


@once_per_chart
def _usual(chart: Chart) -> NDArray[np.float64]:
    bass = chart.bass
    offset = kick_offset(chart)
    usual = np.zeros(len(bass))
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero(np.abs(offset) <= _FLAM_MS)
    if not len(rows):
        return usual
    alike = _alike_ms(chart)
    _, place = bar_and_place(chart, bass.start[rows], _PLACES)
    part = bass.part[rows].astype(np.int64)
    for group in (part, part * (int(place.max()) + 1) + place):
        order = np.argsort(group, kind="stable")
        for mine in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
            own = offset[rows[mine]]
            middle = median(own)
            like = np.abs(own - middle) < alike[rows[mine]]
            habit = len(mine) >= _FEWEST and np.mean(like) >= _NEARLY_ALL
            if habit or (group is part and len(mine) >= _LOOSE):
                usual[rows[mine]] = middle
    return usual
