"""Is a bass note a blue note that resolves?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.accompaniment import supported
from basslint.readings.base import Column, reading
from basslint.readings.line import accent, after_in_part

_THIRD, _FIFTH, _SEVENTH = 3, 6, 10  # semitones above the tonic: the lowered degrees
_SHORT = 0.75  # quarters: what lasts longer is a tone of the line that wants its own reason
_REST = 0.25  # quarters over which a step is still heard as one
_ON_BAR = 3  # accent of the bar line, where a foreign tone stands and leans on nothing
_CARRIED = 0.3  # share of a note for which others must sound its pitch class to carry it


@reading("bass-note", unit="yes or no", source="harmony, common practice: blue notes")
def resolved_blue(chart: Chart) -> Column:
    """Is it a blue note that resolves: the lowered fifth, third or seventh of the key, and short?

    Off the bar line, and moving on by a semitone, without a rest, into a note of the scale or one
    that others play. Of third and seventh those of keys whose own third is major; the lowered fifth
    of any key.
    """
    bass, keys, row = chart.bass, chart.keys, chart.key_at(chart.bass.start)
    if not len(keys) or not len(bass):
        return np.zeros(len(bass), dtype=bool)
    tone, tonic = bass.pitch.astype(np.int64) % 12, keys.tonic.astype(np.int64)[row]
    degree = (tone - tonic) % 12
    major = ~keys.scale[row, (tonic + _THIRD) % 12]
    blue = (degree == _FIFTH) | (major & ((degree == _THIRD) | (degree == _SEVENTH)))
    blue &= (row >= 0) & ~keys.scale[row, tone]
    if not blue.any():
        return np.asarray(blue)
    quarter, after = chart.song.division, after_in_part(chart)
    at = np.maximum(after, 0)
    short = (bass.end - bass.start <= _SHORT * quarter) & (accent(chart) < _ON_BAR)
    moves = (after >= 0) & (np.abs(bass.pitch[at].astype(np.int64) - bass.pitch) == 1)
    moves &= bass.start[at] - bass.end <= _REST * quarter
    fits = keys.scale[row, tone[at]] | (supported(chart)[at] > _CARRIED)
    return np.asarray(blue & short & moves & fits)
