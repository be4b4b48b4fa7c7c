"""Do the copies of a fill close each fourth bar, and does one of them stand elsewhere?

Three rolls that lie whole fours of bars apart say where this song has them, whatever the phrases
are heard to be. Common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import bar_and_place
from basslint.readings.recurrence import numbered
from basslint.util.columns import differences, distinct, found_in

_FOUR, _FEWEST = 4, 3  # bars; copies that say where they belong
_PLACES = 4  # places in a quarter: copies start on the same sixteenth
_LATEST = 1.0  # quarters: a roll that begins later than that is another one
_OFF_STEP = 0.15  # of its step: nearer to a step later, it leaves out hits of its copies

Rows = NDArray[np.intp]


@reading("fill", unit="bars")
def bars_out_of_turn(chart: Chart) -> Column:
    """How many bars after the nearest place of its copies it comes; negative: before it.

    Told where three copies or more lie whole fours of bars apart, and this one alone does not.
    """
    column = np.full(len(chart.fills), np.nan)
    for rows, bar in _families(chart):
        home = np.bincount(bar % _FOUR, minlength=_FOUR)
        usual = int(home.argmax())
        astray = (bar % _FOUR != usual).nonzero()[0]
        if home[usual] >= _FEWEST and len(astray) == 1:
            behind = int(bar[astray[0]] - usual) % _FOUR
            column[rows[astray[0]]] = behind if behind < _FOUR - behind else behind - _FOUR
    return column


@reading("fill", unit="copies")
def turns_kept(chart: Chart) -> Column:
    """How many copies of it lie whole fours of bars apart, where it is told against them."""
    column = np.full(len(chart.fills), np.nan)
    for rows, bar in _families(chart):
        column[rows] = np.bincount(bar % _FOUR).max()
    late, copies = _late(chart)
    return np.where(np.isnan(late), column, copies)


@reading("fill", unit="ms")
def late_in_turn(chart: Chart) -> Column:
    """How much later than its copies it begins, in a bar where one is due and none stands.

    Told where it has their steps and lies between them: what is a step late leaves out a hit.
    """
    late, _ = _late(chart)
    tick = np.where(np.isnan(late), 0, chart.fills.start).astype(np.int64)
    return np.round(late * chart.song.tempo.usec_at(tick) / 1000.0)


def _families(chart: Chart) -> list[tuple[Rows, NDArray[np.int64]]]:
    """Rows of fills of one part with as many hits from one place of the bar on, and their bars."""
    fills = chart.fills
    bar, place = bar_and_place(chart, fills.start, _PLACES)
    kind = numbered(fills.part, place, fills.hits)
    families = ((kind == k).nonzero()[0] for k in distinct(kind.astype(np.int64)).tolist())
    return [(rows, bar[rows].astype(np.int64)) for rows in families if len(rows) >= _FEWEST]


@once_per_chart
def _late(chart: Chart) -> tuple[Column, Column]:
    """Quarters by which a fill begins later than copies in other turns, and how many they are."""
    fills, grid = chart.fills, chart.song.grid
    late, copies = np.full(len(fills), np.nan), np.full(len(fills), np.nan)
    own = bar_and_place(chart, fills.start, _PLACES)[0].astype(np.int64)
    since, grids = fills.start - grid.start[own], np.array(fills.grid)
    for rows, bar in _families(chart):
        # in a mix of grids there is no step that a late one could lie between
        if (bar % _FOUR != bar[0] % _FOUR).any() or fills.step[rows[0]] == 0:
            continue
        first, turn = rows[0], int(np.gcd.reduce(differences(bar))) or _FOUR
        by = (since - np.median(since[rows])) / chart.song.division
        steps = by / fills.step[first]
        due = (fills.part == fills.part[first]) & ((own - bar[0]) % turn == 0) & (by > 0)
        due &= ~found_in(own, bar) & (grids == grids[first]) & (fills.hits <= fills.hits[first])
        due &= (by < _LATEST) & (np.abs(steps - np.round(steps)) > _OFF_STEP)
        late[due], copies[due] = by[due], len(rows)
    return late, copies
