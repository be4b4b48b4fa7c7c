"""How does a bass note stand in its line: how accented, before which note, in a line by step?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.against_harmony import semitones_above_root
from basslint.readings.base import Column, reading
from basslint.readings.notes import before_in_part
from basslint.readings.recurrence import how_often, numbered
from basslint.theory.chords import QUALITIES
from basslint.util.columns import differences, distinct

ON_BEAT = 0.1  # beats: as far from a beat, by hand, a note still starts on it
_STEP = 2  # semitones: a whole tone
_OCTAVE, _FIFTH, _TRITONE = 12, 7, 6  # semitones
_ON_ITS_THIRD = ("diminished", 3)  # quality, semitones above the root


@reading("bass-note", unit="levels", source="Lerdahl and Jackendoff 1983: metrical structure")
def accent(chart: Chart) -> Column:
    """How strong its place in the bar is: 3 on the bar line, 2 mid-bar, 1 a beat, 0 off it."""
    beat = chart.song.grid.beat_of(chart.bass.start)
    count = chart.song.grid.numerator[chart.song.grid.bar_of(chart.bass.start)]
    near = np.rint(beat)
    middle = (count % 2 == 0) & (near == count // 2 + 1)
    level = np.where(near == 1, 3.0, np.where(middle, 2.0, 1.0))
    return np.where(np.abs(beat - near) > ON_BEAT, 0.0, level)


@once_per_chart
def after_in_part(chart: Chart) -> NDArray[np.intp]:
    """The row of the next note of each note's part, [m]; −1 where there is none."""
    last = before_in_part(chart.bass)
    after = np.full(len(last), -1, dtype=np.intp)
    rows = (last >= 0).nonzero()[0]
    after[last[rows]] = rows
    return after


@reading("bass-note", unit="yes or no", source="Open Music Theory: inversions in a bass line")
def in_line(chart: Chart) -> Column:
    """Does the line go through it by step: to or from it, or from chord to chord?

    To or from it: it is reached or left by a semitone or a whole tone, however often it is struck.
    From chord to chord: so far, one way, lie the notes on which it begins the chords around it.
    A line that is struck in octaves steps as well as a single one.
    """
    last = before_in_part(chart.bass)
    way = _way(chart, np.maximum(last, 0), np.arange(len(last)))
    follows = (last >= 0) & (np.abs(way) <= _STEP)
    again = follows & (way == 0)
    run = np.cumsum(~again)  # a number for each tone and what strikes it again
    steps = np.zeros(len(run) + 2, dtype=bool)
    steps[run[follows & ~again]] = True
    steps[run[last[follows & ~again]]] = True
    return np.asarray(steps[run] | _between_chords(chart))


@reading("bass-note", unit="yes or no", source="Open Music Theory: cadential six-four")
def six_four(chart: Chart) -> Column:
    """Is it the fifth of the tonic chord, which goes on to the dominant on that very tone?"""
    roots, row, key = chart.roots, chart.bass_roots, chart.key_at(chart.bass.start)
    column = np.zeros(len(row), dtype=bool)
    known = ((row >= 0) & (row < len(roots) - 1) & (key >= 0)).nonzero()[0]
    at, tonic = row[known], chart.keys.tonic[key[known]].astype(np.int64)
    dominant = (tonic + _FIFTH) % _OCTAVE
    column[known] = (
        (roots.root[at] == tonic)
        & (roots.root[at + 1] == dominant)
        & (roots.start[at + 1] == roots.end[at])
        & (chart.bass.pitch[known] % _OCTAVE == dominant)
    )
    return column


@reading("bass-note", unit="yes or no", source="Open Music Theory: diminished triads")
def on_its_third(chart: Chart) -> Column:
    """Is it the third of a diminished triad, on which such a triad stands as a rule?"""
    quality, third = _ON_ITS_THIRD
    row = np.maximum(chart.bass_chords, 0)
    kind = np.append(chart.roots.quality, -1)[row] == QUALITIES.index(quality)
    return np.asarray(kind & (semitones_above_root(chart) == third))


def _way(chart: Chart, before: NDArray[np.intp], after: NDArray[np.intp]) -> NDArray[np.int64]:
    """Semitones from bass notes to others, rows [k] each.

    To a note that its part doubles in octaves, the shorter way: −6 to 5.
    """
    bass, doubled = chart.bass, _in_octaves(chart)
    pitch = bass.pitch.astype(np.int64)
    way = pitch[after] - pitch[before]
    return np.where(doubled[after], (way + _TRITONE) % _OCTAVE - _TRITONE, way)


@once_per_chart
def _in_octaves(chart: Chart) -> NDArray[np.bool_]:
    """Is its pitch class struck with it in another octave by its own part, [m]?"""
    bass = chart.bass
    same = numbered(bass.part, bass.start, bass.pitch % _OCTAVE)
    return np.asarray(how_often(same) > 1)


def _between_chords(chart: Chart) -> NDArray[np.bool_]:
    """Is it the first under a chord, a step one way from that before and to that after, [m]?"""
    bass, chord = chart.bass, chart.bass_roots
    column = np.zeros(len(bass), dtype=bool)
    for part in distinct(bass.part).tolist():
        rows = ((bass.part == part) & (chord >= 0)).nonzero()[0]
        rows = rows[np.concatenate(([True], differences(chord[rows]) != 0))] if len(rows) else rows
        way = _way(chart, rows[:-1], rows[1:])
        step = np.abs(way) <= _STEP
        column[rows[1:-1]] = step[:-1] & step[1:] & (way[:-1] * way[1:] > 0)
    return column
