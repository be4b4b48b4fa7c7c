"""Does a fill lead into something new?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.fills import beats_from_four_bars
from basslint.readings.notes import bar_and_place
from basslint.util.columns import distinct, found_in

_AROUND = 2  # bars before and after a line whose parts and drums are held against each other
_ARRIVES = 1.0  # beats: as near a roll leads to where four bars end
_PLACES = 4  # places in a quarter: what is struck a hair before a line belongs to the bar behind it


@reading("fill", unit="yes or no", source="common practice")
def leads_into_change(chart: Chart) -> Column:
    """Does a part come in or stop at the bar line nearest to its end, or a new drum begin there?

    A part comes in that was silent for two bars, or one that played in two stops for two; a drum
    is struck in the bar behind the line that was not in the two before. Or it leads into the last
    stroke of the song, after which nothing begins.
    """
    fills, grid = chart.fills, chart.song.grid
    if not len(fills):
        return np.zeros(0, dtype=bool)
    after = np.clip(np.searchsorted(grid.start, fills.end), 1, len(grid.start) - 1)
    nearer = fills.end - grid.start[after - 1] < grid.start[after] - fills.end
    return _turns(chart)[np.where(nearer, after - 1, after)]


@reading("fill", unit="yes or no", source="common practice")
def builds_up(chart: Chart) -> Column:
    """Does another roll take over within a bar of its end, and lead to where four bars end?"""
    fills, grid = chart.fills, chart.song.grid
    with np.errstate(invalid="ignore"):
        arrives = beats_from_four_bars(chart) <= _ARRIVES
    bar = grid.bar_of(fills.end)
    until = fills.end + grid.start[bar + 1] - grid.start[bar] if len(fills) else fills.end
    column = np.zeros(len(fills), dtype=bool)
    for row in range(len(fills)):
        later = arrives & (fills.drums == fills.drums[row]) & (fills.start >= fills.end[row])
        column[row] = bool((later & (fills.start <= until[row])).any())
    return column


def _turns(chart: Chart) -> NDArray[np.bool_]:
    """Whether what plays changes at each bar line, the last one included."""
    song, drums = chart.song, chart.parts.drums
    notes, bars = song.notes, song.grid.bars
    bar, _ = bar_and_place(chart, notes.start, _PLACES)
    bar = np.minimum(bar, bars - 1).astype(np.int64)
    struck = found_in(notes.part, drums).nonzero()[0]
    parts = distinct(notes.part * np.int64(bars) + bar)
    keys = distinct(notes.pitch[struck] * np.int64(bars) + bar[struck])
    turns = np.zeros(bars + 1, dtype=bool)
    turns[_comes_in(parts, bars)] = True
    turns[_comes_in(keys, bars)] = True
    turns[_stops(parts, bars) + 1] = True
    if len(notes) and notes.start[-1] <= song.grid.start[bar[-1]] + song.division // _PLACES:
        turns[bar[-1]] = True
    return turns


def _comes_in(voices: NDArray[np.int64], bars: int) -> NDArray[np.int64]:
    """The bars in which a voice plays that was silent for two; ``voices``: voice × bars + bar."""
    new = np.append(True, np.diff(voices) > _AROUND)[: len(voices)]
    new |= np.append(True, np.diff(voices // bars) > 0)[: len(voices)]
    return np.asarray(voices[new] % bars)


def _stops(voices: NDArray[np.int64], bars: int) -> NDArray[np.int64]:
    """The bars, with the one before, in which a voice plays that is silent for two after them."""
    last = np.append(np.diff(voices) > _AROUND, True)[: len(voices)]
    last |= np.append(np.diff(voices // bars) > 0, True)[: len(voices)]
    played = np.append(False, np.diff(voices) == 1)[: len(voices)] & (voices % bars > 0)
    return np.asarray(voices[last & played] % bars)
