"""How roughly does a bass note meet what sounds with it?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.against_parts import other_bass_row, rub_row
from basslint.readings.base import Column, reading
from basslint.theory import tuning
from basslint.util.columns import distinct

_SEVENTH = 10  # semitones: the minor seventh, which makes a dominant of a chord with a flat ninth
_SOUNDS = 0.3  # share of a note for which a tone must sound to belong to the harmony over it
_OCTAVE, _TRITONE = 12, 6  # semitones
_STEP = 2  # semitones: a whole tone
_REST = 1.1  # felt beats: across a longer rest a line begins anew
_SHORT = 1.4  # felt beats: a beat, swung or held over by hand
_LEGATO = 0.25  # felt beats: so far a hand holds a note of a line into the next one


@reading(
    "bass-note", unit="yes or no", source="harmony, common practice: the dominant's flat ninth"
)
def rub_is_ninth(chart: Chart) -> Column:
    """Does it rub with the flat ninth of a seventh chord on it: a semitone up, with its seventh?

    The minor seventh over the note sounds for a third of it in another part.
    """
    pitch, row = chart.bass.pitch.astype(np.int64), rub_row(chart)
    up = (chart.notes.pitch[np.maximum(row, 0)] - pitch) % 12
    seventh = chart.accompaniment.at(_SEVENTH, pitch) >= _SOUNDS
    return np.asarray((row >= 0) & (up == 1) & seventh)


@reading("bass-note", unit="Hz", source="ISO 16: equal temperament, A = 440 Hz")
def other_bass_apart_hz(chart: Chart) -> Column:
    """How many Hz lie between it and the note of the leading bass that sounds against it."""
    row = other_bass_row(chart)
    theirs = tuning.frequency(chart.notes.pitch[np.maximum(row, 0)].astype(np.float64))
    mine = tuning.frequency(chart.bass.pitch.astype(np.float64))
    return np.where(row >= 0, np.round(np.abs(mine - theirs), 1), np.nan)


@reading("bass-note", unit="number")
def one_rub(chart: Chart) -> Column:
    """A number that notes of one pitch class share which rub with the same note: one clash.

    A bass in octaves, or one that is doubled in another part, clashes once.
    """
    return np.asarray(rub_row(chart) * float(_OCTAVE) + chart.bass.pitch % _OCTAVE)


@reading("bass-note", unit="yes or no", source="Open Music Theory: passing and neighbour notes")
def rub_passes(chart: Chart) -> Column:
    """Does the note that it rubs with pass or turn by step in a line of its own, for a beat?

    A tone that is struck again without a rest is one tone of the line; octaves are folded. Where
    its part sounds several tones at a time there is no line.
    """
    row = rub_row(chart)
    met = row[row >= 0]
    part = chart.notes.part
    passing = np.zeros(len(chart.notes) + 1, dtype=bool)  # the last: no note is met
    for one in distinct(part[met]).tolist():
        rows = (part == one).nonzero()[0]
        passing[rows] = _embellishes(chart, rows)
    return passing[row]


def _embellishes(chart: Chart, rows: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which notes of a part, its rows in order of time, pass or turn by step and are short, [k]."""
    notes, grid = chart.notes, chart.song.grid
    start, end, tone = notes.start[rows], notes.end[rows], notes.pitch[rows].astype(np.int64) % 12
    beat = grid.felt_beat(grid.bar_of(start))
    again = (tone[1:] == tone[:-1]) & (start[1:] - end[:-1] <= _REST * beat[1:])
    new = np.append(True, ~again)
    first = new.nonzero()[0]
    begin, reach, beat = start[first], np.maximum.reduceat(end, first), beat[first]
    way = (tone[first][1:] - tone[first][:-1] + _TRITONE) % _OCTAVE - _TRITONE
    rest = begin[1:] - reach[:-1]
    by_step = (np.abs(way) <= _STEP) & (way != 0)
    by_step &= (rest <= _REST * beat[1:]) & (rest >= -_LEGATO * beat[1:])
    short = reach - begin <= _SHORT * beat
    passes = np.append(False, by_step) & np.append(by_step, False) & short
    return np.asarray(passes[np.cumsum(new) - 1])
