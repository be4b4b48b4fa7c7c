"""Is a bass note a blue note that resolves?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.line import accent, after_in_part

_THIRD, _FIFTH, _SEVENTH = 3, 6, 10  # semitones above the tonic: the lowered degrees
_SHORT = 0.75  # quarters: what lasts longer is a tone of the line that wants its own reason
_REST = 0.25  # quarters over which a step is still heard as one
_ON_BAR = 3  # accent of the bar line, where a foreign tone stands and leans on nothing


@reading("bass-note", unit="yes or no", source="harmony, common practice: blue notes")
def resolved_blue(chart: Chart) -> Column:
    """Is it a blue note that resolves: the lowered fifth, third or seventh of the key, and short?

    Off the bar line, and moving on by a semitone, which always leads into the scale, without a
    rest. Keys whose own third is minor have the third and the seventh in their scale; the lowered
    fifth is one of any key.
    """
    bass, keys, row = chart.bass, chart.keys, chart.key_at(chart.bass.start)
    if not len(keys):
        return np.zeros(len(bass), dtype=bool)
    tone = bass.pitch.astype(np.int64) % 12
    degree = (tone - keys.tonic.astype(np.int64)[row]) % 12
    blue = (degree == _FIFTH) | (degree == _THIRD) | (degree == _SEVENTH)
    blue &= ~keys.scale[row, tone]
    if not np.count_nonzero(blue):
        return np.asarray(blue)
    quarter, after = chart.song.division, after_in_part(chart)
    at = np.maximum(after, 0)
    short = (bass.end - bass.start <= _SHORT * quarter) & (accent(chart) < _ON_BAR)
    moves = (after >= 0) & (np.abs(bass.pitch[at].astype(np.int64) - bass.pitch) == 1)
    moves &= bass.start[at] - bass.end <= _REST * quarter
    return np.asarray(blue & short & moves)
