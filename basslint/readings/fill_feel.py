"""How loosely is the part of a fill played?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.fills import stray_ms
from basslint.readings.notes import bar_and_place
from basslint.util.columns import distinct, median

_PLACES = 4  # places in a quarter
_FEWEST = 16  # notes that show how a part is played
_NORMAL = 1.4826  # median distance of a normal spread from its middle, to its deviation
_LEAST_MS = 1.0  # of a part that was drawn on the grid


@reading("fill", unit="spreads", source="median absolute deviation, as of a normal spread")
def stray_spreads(chart: Chart) -> Column:
    """How many times the usual scatter of its part its worst hit lies from where others put it.

    The scatter of the part's other notes about the middle of those on the same sixteenth of the
    bar, so that a swing drawn on the grid is none; a millisecond where fewer than 16 tell.
    """
    part, stray = chart.fills.part, stray_ms(chart)
    column = np.zeros(len(part))
    for one in distinct(part).tolist():
        mine = part == one
        column[mine] = stray[mine] / _spread_ms(chart, one)
    return column


def _spread_ms(chart: Chart, part: int) -> float:
    """The usual scatter of a part's notes outside of its fills, in milliseconds."""
    song = chart.song
    others = song.notes.part == part
    for hits in chart.fills.notes:
        others[hits] = False
    start = song.notes.start[others]
    if len(start) < _FEWEST:
        return _LEAST_MS
    bar, place = bar_and_place(chart, start, _PLACES)
    on = song.grid.start[bar] + place * song.division // _PLACES
    off = (start - on) * song.tempo.usec_at(start) / (1000.0 * song.division)
    away = np.empty(len(off))
    for one in distinct(place).tolist():
        mine = place == one
        away[mine] = np.abs(off[mine] - median(off[mine]))
    return max(_NORMAL * float(median(away)), _LEAST_MS)
