"""Does a bass that else begins each chord on its root begin one on another tone?

The commonest pattern of a beat's bass is the root of each chord. In a part that keeps to it, a held
note that is no tone of its chord is a slip even where it belongs to the scale and rubs with
nothing; in one that walks, the same note says nothing. Common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import bar_and_place, part_by_part, words
from basslint.readings.recurrence import figures
from basslint.util.columns import kinds_of
from basslint.util.records import record

_PLACES = 4  # in a quarter; the place itself is not used
_HALF = 0.5  # pseudo-count of either outcome (Jeffreys' prior): two chords of two are no habit
_WORTH_WORDS = 0.8  # share below which nobody asks for words


@reading("bass-note", unit="yes or no")
def first_under_chord(chart: Chart) -> Column:
    """Is it the first note of its part under its chord?"""
    return _first(chart)


@reading("bass-note", unit="share", source="common practice")
def root_habit(chart: Chart) -> Column:
    """Share of the other chords that its part begins on their root, its own bar left out.

    Counted with half a chord more on either side, so that few chords are no habit.
    """
    return _share(_others(chart))


@reading("bass-note", unit="share", source="common practice")
def figure_root_habit(chart: Chart) -> Column:
    """Share of the other chords that its part begins on their root, its own figure left out."""
    return _share(_others_but_figure(chart))


@reading("bass-note", unit="text")
def root_habit_words(chart: Chart) -> Column:
    """How its part begins the other chords: “begins all of 15 other chords on their root”."""
    return _worded(chart, _others(chart))


@reading("bass-note", unit="text")
def figure_root_habit_words(chart: Chart) -> Column:
    """The same with the figure that it belongs to left out."""
    return _worded(chart, _others_but_figure(chart))


@record(eq=False)
class _Beginnings:
    """How many other chords the part of each note begins on their root, and not; int64 [m]."""

    on_root: NDArray[np.int64]
    off_root: NDArray[np.int64]


def _share(others: _Beginnings) -> Column:
    whole = others.on_root + others.off_root
    return np.asarray((others.on_root + _HALF) / (whole + 2 * _HALF))


def _worded(chart: Chart, others: _Beginnings) -> Column:
    column = words([None] * len(chart.bass))
    for row in (_share(others) > _WORTH_WORDS).nonzero()[0].tolist():
        on_root, off_root = int(others.on_root[row]), int(others.off_root[row])
        count = f"all {on_root}" if not off_root else f"{on_root} of {on_root + off_root}"
        column[row] = f"begins {count} other chords on their root"
    return column


@once_per_chart
def _first(chart: Chart) -> NDArray[np.bool_]:
    bass, row = chart.bass, chart.bass_roots
    first = np.zeros(len(bass), dtype=bool)
    order = part_by_part(chart)
    part, chord = bass.part[order], row[order]
    turn = (chord[1:] != chord[:-1]) | (part[1:] != part[:-1])
    first[order] = np.append(True, turn)[: len(order)]
    return first & (_root(chart) >= 0)


@once_per_chart
def _others(chart: Chart) -> _Beginnings:
    bar, _ = bar_and_place(chart, chart.bass.start, _PLACES)
    return _beginnings(chart, bar)


@once_per_chart
def _others_but_figure(chart: Chart) -> _Beginnings:
    return _beginnings(chart, figures(chart).of + 1)


def _beginnings(chart: Chart, left_out: NDArray[np.int64]) -> _Beginnings:
    """``left_out``: a number for each note, [m]; notes of its number do not count for it."""
    part, first = chart.bass.part.astype(np.int64), _first(chart)
    _, part = kinds_of(part)
    _, own = kinds_of(part * (left_out.max(initial=0) + 1) + left_out)
    on_root = (chart.bass.pitch - _root(chart)) % 12 == 0

    def elsewhere(counted: NDArray[np.bool_]) -> NDArray[np.int64]:
        whole = np.bincount(part[counted], minlength=1 + part.max(initial=0))
        mine = np.bincount(own[counted], minlength=1 + own.max(initial=0))
        return np.asarray(whole[part] - mine[own])

    return _Beginnings(elsewhere(first & on_root), elsewhere(first & ~on_root))


def _root(chart: Chart) -> NDArray[np.int64]:
    """Root of the chord of each bass note, [m]; −1 where none is told."""
    row = chart.bass_chords
    return np.append(chart.roots.root, np.int8(-1))[np.where(row >= 0, row, -1)].astype(np.int64)
