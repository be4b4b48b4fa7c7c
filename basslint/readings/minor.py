"""Does a bass line rise through the raised sixth and seventh to a minor tonic?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.accompaniment import rub_share
from basslint.readings.approach import linked
from basslint.readings.base import Column, reading
from basslint.readings.notes import felt_beats, part_by_part
from basslint.readings.recurrence import tones
from basslint.theory.chords import QUALITIES, TONES

_TONE, _SEMITONE, _THIRD = 2, 1, 3  # semitones
_RUBS = 0.5  # share of a note
_REST = 1.1  # felt beats: across a longer rest a line begins anew
_MINOR = np.array([_THIRD in TONES[name] and 7 in TONES[name] for name in QUALITIES] + [False])


@reading("bass-note", unit="yes or no", source="Open Music Theory: melodic minor")
def rises_in_minor(chart: Chart) -> Column:
    """Is it the raised sixth or seventh of melodic minor, on the way up: A or B in A–B–C over Cm?

    The line goes up by a whole tone and a semitone to the tonic of a minor key, or to the root of a
    minor chord; a tone that is struck again counts once. Not where the sixth rubs with what sounds
    for half of it: D♯ under E is none.
    """
    order = part_by_part(chart)
    column = np.zeros(len(order), dtype=bool)
    if len(order) < _THIRD:
        return column
    tone = tones(chart)[order]
    joined = np.append(False, linked(chart, order, _REST * felt_beats(chart)[order]))
    new = ~joined | (tone != np.append(-1, tone[:-1]))
    of, first = np.cumsum(new) - 1, new.nonzero()[0]
    way = np.where(joined[first], tone[first] - tone[first - 1], 0) % 12  # from the tone before
    up = np.zeros(len(first) + 2, dtype=bool)
    rises = ((way[1:-1] == _TONE) & (way[2:] == _SEMITONE)).nonzero()[0]
    if not len(rises):
        return column
    rises = rises[_is_minor(chart, order[first[rises + 2]])]
    rises = rises[np.asarray(rub_share(chart))[order[first[rises]]] < _RUBS]
    up[rises], up[rises + 1] = True, True
    column[order] = up[of]
    return column


def _is_minor(chart: Chart, rows: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Is each of some bass notes the tonic of a minor key, or the root of a minor chord, [k]?"""
    tone, keys, roots = tones(chart)[rows], chart.keys, chart.roots
    chord = chart.bass_chords[rows]
    minor = (np.append(roots.root, -1)[chord] == tone) & _MINOR[
        np.append(roots.quality, len(QUALITIES))[chord]
    ]
    key = chart.key_at(chart.bass.start[rows])
    if len(keys):
        minor |= (key >= 0) & (keys.tonic[key] == tone) & keys.scale[key, (tone + _THIRD) % 12]
    return np.asarray(minor)
