"""Which fills are copies of each other, pasted with their loop?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.fills import beats_from_four_bars, strays
from basslint.readings.notes import bar_and_place
from basslint.readings.recurrence import how_often, numbered, times_alike

_FOUR = 4  # bars
_PLACES = 4  # places in a quarter: a figure that comes back starts on the same sixteenth
_LEADS_IN = 1.0  # beats: a fill this near to where four bars end leads into what follows


@reading("fill", unit="figure")
def figure(chart: Chart) -> Column:
    """A number that copies of a fill share: same part, place in the bar, hits and worst hit."""
    fills = chart.fills
    _, place = bar_and_place(chart, fills.start, _PLACES)
    worst = np.array([int(np.argmax(away)) for away in strays(chart)], dtype=np.int64)
    return numbered(fills.part, place, fills.hits, worst)


@reading("fill", unit="text")
def in_copies(chart: Chart) -> Column:
    """How often it comes, such as “ 4 times alike”; nothing where it comes once."""
    return times_alike(figure(chart))


@reading("fill", unit="figure")
def figure_of_beat(chart: Chart) -> Column:
    """A number that fills of its part share that start at its place of the bar, with as many hits.

    Those that end within a beat of where four bars end, and those that do not, are told apart:
    rolls that close their phrases say nothing of one that comes too early.
    """
    fills = chart.fills
    _, place = bar_and_place(chart, fills.start, _PLACES)
    with np.errstate(invalid="ignore"):
        astray = beats_from_four_bars(chart) > _LEADS_IN
    return numbered(fills.part, place, fills.hits, astray.astype(np.int64))


@reading("fill", unit="fills")
def copies(chart: Chart) -> Column:
    """How many fills share its `figure_of_beat`, itself too."""
    return how_often(figure_of_beat(chart)).astype(np.float64)


@reading("fill", unit="figure")
def figure_of_fours(chart: Chart) -> Column:
    """A number that copies of a fill share that lie whole fours of bars apart."""
    fills = chart.fills
    bar, place = bar_and_place(chart, fills.start, _PLACES)
    return numbered(fills.part, place, fills.hits, bar % _FOUR)


@reading("fill", unit="text")
def in_fours(chart: Chart) -> Column:
    """How often it comes whole fours of bars apart, such as “, 4 times alike”; nothing for once."""
    return times_alike(figure_of_fours(chart), ", ")


@reading("fill", unit="yes or no")
def every_fourth_bar(chart: Chart) -> Column:
    """Does it come in each fourth bar from its first copy to its last, and nowhere else?"""
    figure = figure_of_fours(chart)
    count, of = how_often(figure), figure.astype(np.int64)
    bar, _ = bar_and_place(chart, chart.fills.start, _PLACES)
    first, last = np.full(len(of), chart.song.grid.bars), np.zeros(len(of), dtype=np.int64)
    np.minimum.at(first, of, bar)
    np.maximum.at(last, of, bar)
    return np.asarray((count >= copies(chart)) & ((last - first)[of] == _FOUR * (count - 1)))
