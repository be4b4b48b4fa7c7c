"""Is a fill part of the beat around it: does the bar beside it play it too, or is all in rolls?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.util.columns import differences, distinct, found_in

_PLAYED = 0.8  # share of its hits that the bar beside has: a hand leaves one out or adds one
_NEAR = 0.25  # of its step: as far off, by hand, a hit still stands on the same place
_AS_SHORT = 1.25  # times its step: a third longer is the next grid
_RUN = 3  # steps that make a roll: four hits
_AROUND = 1  # bar before and after it in which other rolls are counted
Ticks = NDArray[np.int64]


@reading("fill", unit="yes or no", source="common practice")
def bar_beside_has_it(chart: Chart) -> Column:
    """Does its part strike the same drums at the same places in the bar before it, or after it?

    Then it interrupts nothing: it is the beat. A roll of several bars is held against as many. Of
    a bass part all notes count, whatever their pitch.
    """
    fills, grid = chart.fills, chart.song.grid
    column = np.zeros(len(fills), dtype=bool)
    for row in range(len(fills)):
        hits, near = chart.song.notes.start[fills.notes[row]], _near(chart, row)
        struck = _struck(chart, row)
        first, last = grid.bar_of(hits[:1] + near)[0], grid.bar_of(hits[-1:])[0]
        bars = last + 1 - first
        for to in (first - bars, first + bars):
            if 0 <= to <= grid.bars - bars:
                there = hits - grid.start[first] + grid.start[to]
                column[row] |= np.mean(_meets(struck, there, near)) >= _PLAYED
    return column


@reading("fill", unit="rolls", source="common practice")
def rolls_around(chart: Chart) -> Column:
    """How many other rolls its drum, or its bass, has as short in steps from a bar before it on.

    To a bar after it. Where all is in rolls, a solo or a section in double time, none stands out.
    """
    fills, grid = chart.fills, chart.song.grid
    count = np.zeros(len(fills))
    for row in range(len(fills)):
        struck = _struck(chart, row)
        bar = grid.bar_of(fills.start[row : row + 1])[0]
        low = grid.start[max(bar - _AROUND, 0)]
        high = grid.start[min(bar + _AROUND + 1, grid.bars)]
        onset = struck[(struck >= low) & (struck < high)]
        short = differences(onset) <= _AS_SHORT * fills.step[row] * chart.song.division
        edge = differences(np.concatenate(([0], short.astype(np.int8), [0])))
        begin, end = (edge == 1).nonzero()[0], (edge == -1).nonzero()[0]
        long = end - begin >= _RUN
        apart = (onset[end[long]] < fills.start[row]) | (onset[begin[long]] >= fills.end[row])
        count[row] = np.count_nonzero(apart)
    return count


def _struck(chart: Chart, row: int) -> Ticks:
    """When the voices of a fill are struck, all through the song: its drums, or its bass part."""
    notes, fills = chart.song.notes, chart.fills
    mine = notes.part == fills.part[row]
    if fills.drums[row]:
        mine &= found_in(notes.pitch, distinct(notes.pitch[fills.notes[row]]))
    return distinct(notes.start[mine])


def _near(chart: Chart, row: int) -> int:
    return int(_NEAR * chart.fills.step[row] * chart.song.division)


def _meets(struck: Ticks, there: Ticks, near: int) -> NDArray[np.bool_]:
    """Whether something is struck within ``near`` ticks of each tick, [n]."""
    return struck.searchsorted(there - near) < struck.searchsorted(there + near, side="right")
