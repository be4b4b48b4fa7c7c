"""What is any note of a pitched part: well formed, doubled, ended?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import beats, milliseconds, note_names, part_names, words
from basslint.song.arrangement import NEVER
from basslint.theory import tuning
from basslint.util.columns import order_of

_MIDI = "MIDI 1.0 detailed specification"


@reading("note", unit="MIDI number", source=_MIDI)
def pitch(chart: Chart) -> Column:
    """Its pitch as a MIDI number; 60 is middle C."""
    return chart.pitched.pitch.astype(np.float64)


@reading("note", unit="text", source="scientific pitch notation")
def note_name(chart: Chart) -> Column:
    """Its name and octave, such as F#1."""
    return note_names(chart, chart.pitched)


@reading("note", unit="Hz", source=tuning.SOURCE)
def frequency(chart: Chart) -> Column:
    """The frequency of its fundamental as written."""
    return tuning.frequency(chart.pitched.pitch)


@reading("note", unit="beats")
def length(chart: Chart) -> Column:
    """How long it is held, in beats of the meter."""
    notes = chart.pitched
    return beats(chart, notes.start, notes.end)


@reading("note", unit="ms")
def length_ms(chart: Chart) -> Column:
    """How long it is held, in milliseconds."""
    notes = chart.pitched
    return milliseconds(chart, notes.start, notes.end)


@reading("note", unit="1–127", source=_MIDI)
def velocity(chart: Chart) -> Column:
    """How hard it is struck."""
    return chart.pitched.velocity.astype(np.float64)


@reading("note", unit="beat")
def beat(chart: Chart) -> Column:
    """The beat of the bar on which it starts, from 1, with its fraction."""
    return chart.song.grid.beat_of(chart.pitched.start)


@reading("note", unit="text")
def part_name(chart: Chart) -> Column:
    """The name of its part."""
    return part_names(chart, chart.pitched.part)


@reading("note", unit="text")
def role(chart: Chart) -> Column:
    """The role of its part: bass, harmony, melody or other."""
    return words(list(chart.parts.role))[chart.pitched.part]


@reading("note", unit="yes or no", source="Standard MIDI Files 1.0 (RP-001)")
def has_end(chart: Chart) -> Column:
    """Does the file end it with a note-off?"""
    return np.asarray(chart.pitched.off_row != NEVER)


@reading("note", unit="yes or no")
def in_scale(chart: Chart) -> Column:
    """Is it a note of the scale of the key in force where it starts?"""
    notes = chart.pitched
    row = chart.key_at(notes.start)
    column = np.full(len(notes), None, dtype=object)
    known = row >= 0
    if np.count_nonzero(known):
        column[known] = chart.keys.scale[row[known], notes.pitch[known] % 12]
    return column


@reading("note", unit="beats")
def doubled(chart: Chart) -> Column:
    """How long an earlier note of the same pitch and part sounds on under it."""
    notes, (row, under) = chart.pitched, _doubles(chart)
    column = np.zeros(len(notes))
    if len(row):
        start = notes.start[row]
        end = np.minimum(notes.end[row], notes.end[under])
        column[row] = np.maximum(beats(chart, start, end), 0.0)
    return column


@reading("note", unit="yes or no")
def struck_twice(chart: Chart) -> Column:
    """Is the same pitch of the same part struck a second time at the same moment?"""
    notes, (row, under) = chart.pitched, _doubles(chart)
    column = np.zeros(len(notes), dtype=bool)
    column[row] = notes.start[row] == notes.start[under]
    return column


@once_per_chart
def doubled_row(chart: Chart) -> NDArray[np.intp]:
    """Row of the note of the same part and pitch that each begins with or under, [n]; −1 none.

    Rows count among the notes of pitched parts, as in `Chart.pitched`.
    """
    result = np.full(len(chart.pitched), -1, dtype=np.intp)
    row, under = _doubles(chart)
    result[row] = under
    return result


@once_per_chart
def _doubles(chart: Chart) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows of notes that begin with or under the one before of their part and pitch, and of that
    one, [k] each."""
    notes = chart.pitched
    key = notes.part * 128 + notes.pitch
    order = order_of(key)  # in order of time as they are
    key, start, end = key[order], notes.start[order], notes.end[order]
    met = (end[:-1] > start[1:]) | (start[:-1] == start[1:])
    again = ((key[1:] == key[:-1]) & met).nonzero()[0]
    return order[again + 1], order[again]
