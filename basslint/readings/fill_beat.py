"""Is a fill part of the beat around it: does the bar beside it play it too, or is all in rolls?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.fills import strays
from basslint.theory.general_midi import TIMEKEEPERS
from basslint.util.columns import differences, distinct, found_in

_PLAYED = 0.8  # share of its hits that the bar beside has: a hand leaves one out or adds one
_NEAR = 0.25  # of its step: as far off, by hand, a hit still stands on the same place
_AS_SHORT = 1.25  # times its step: a third longer is the next grid
_RUN = 3  # steps that make a roll: four hits
_SECOND = 2  # bars away: where a figure comes in every other bar
_AROUND = 1  # bar before and after it in which other rolls are counted
Ticks = NDArray[np.int64]


@reading("fill", unit="yes or no", source="common practice")
def bar_beside_has_it(chart: Chart) -> Column:
    """Does its part strike the same drums at the same places in the bar before it, or after it?

    Then it interrupts nothing: it is the beat. A roll of several bars is held against as many. Of
    a bass part all notes count, whatever their pitch.
    """
    return _plays_it_too(chart, 1)


@reading("fill", unit="yes or no", source="common practice")
def second_bar_has_it(chart: Chart) -> Column:
    """As `bar_beside_has_it`, of the second bar before it, or after it: in every other bar."""
    return _plays_it_too(chart, _SECOND)


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


@reading("fill", unit="yes or no", source="common practice")
def stray_is_of_beat(chart: Chart) -> Column:
    """Is its worst hit its first, and struck at that place in the bar before as well?

    Then the beat goes on up to the roll, which begins with the hit after it.
    """
    fills, grid = chart.fills, chart.song.grid
    column = np.zeros(len(fills), dtype=bool)
    for row, away in enumerate(strays(chart)):
        first = chart.song.notes.start[fills.notes[row][:1]]
        bar = int(grid.bar_of(first)[0])
        if bar and int(np.argmax(away)) == 0:
            there = first - grid.start[bar] + grid.start[bar - 1]
            column[row] = bool(_meets(_struck(chart, row), there, 1).all())
    return column


@reading("fill", unit="share", source="common practice")
def busy_around(chart: Chart) -> Column:
    """How many of its steps the kit, or its bass, strikes in the bar before it and after it.

    Kicks, snares, claps and toms count, of a bass all its notes. A fill is busier than the beat;
    where the beat runs in the same steps, it is a turn of the beat.
    """
    fills, song, division = chart.fills, chart.song, chart.song.division
    column, kit = np.zeros(len(fills)), _kit(chart)
    for row in (fills.step > 0).nonzero()[0].tolist():  # else all its hits fall on one tick
        step = fills.step[row] * division
        onset = kit if fills.drums[row] else _struck(chart, row)
        bar = song.grid.bar_of(fills.start[row : row + 1])[0]
        whole = float(song.grid.start[bar + 1] - song.grid.start[bar])
        near, hit, steps = _near(chart, row), 0, 0
        for end, begin in ((fills.start[row], -1), (fills.end[row], 1)):
            there = (end + begin * step * np.arange(1, 1 + round(whole / step))).astype(np.int64)
            there = there[(there >= 0) & (there < song.grid.start[song.grid.bars])]
            hit, steps = hit + int(_meets(onset, there, near).sum()), steps + len(there)
        column[row] = hit / max(steps, 1)
    return column


def _kit(chart: Chart) -> Ticks:
    """When the drums strike, timekeepers left out."""
    notes = chart.song.notes
    mine = found_in(notes.part, chart.parts.drums) & ~found_in(notes.pitch, TIMEKEEPERS)
    return distinct(notes.start[mine])


def _plays_it_too(chart: Chart, away: int) -> Column:
    """Whether the bars so many times its own length away have a fill's hits at their places."""
    fills, grid = chart.fills, chart.song.grid
    column = np.zeros(len(fills), dtype=bool)
    for row in range(len(fills)):
        hits, near = chart.song.notes.start[fills.notes[row]], _near(chart, row)
        struck = _struck(chart, row)
        first, last = grid.bar_of(hits[:1] + near)[0], grid.bar_of(hits[-1:])[0]
        bars = last + 1 - first
        for to in (first - away * bars, first + away * bars):
            if 0 <= to <= grid.bars - bars:
                there = hits - grid.start[first] + grid.start[to]
                column[row] |= np.mean(_meets(struck, there, near)) >= _PLAYED
    return column


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
