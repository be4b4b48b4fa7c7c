"""Does the bass change its root when the harmony does?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.charting import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import beats, beats_in_words, named


@reading("bass-note", unit="beats")
def change_lag(chart: Chart) -> Column:
    """How long it keeps the old root after the harmony has changed; negative: has the new early.

    Told where bass and harmony go from the same root to the same root: positive on the bass note
    that stays on the old root, negative on the one that comes too early and is held on.
    """
    column = np.full(len(chart.bass), np.nan)
    for part in np.unique(chart.bass.part).tolist():
        _lags_of(chart, np.flatnonzero(chart.bass.part == part), column)
    return column


def _lags_of(chart: Chart, rows: NDArray[np.intp], column: Column) -> None:
    """Fill in the lags of the notes of one part."""
    bass, roots = chart.bass, chart.roots
    change = 1 + np.flatnonzero((roots.root[1:] >= 0) & (roots.root[:-1] >= 0))
    place = np.searchsorted(bass.start[rows], roots.start[change], side="left") - 1
    inside = (place >= 0) & (place < len(rows))
    change, place = change[inside], place[inside]
    at, old, new = roots.start[change], roots.root[change - 1], roots.root[change]
    now = rows[place]  # the last note that starts before the change
    sounds = bass.end[now] > at
    tone = bass.pitch[now] % 12

    after = rows[np.minimum(place + 1, len(rows) - 1)]
    late = sounds & (tone == old) & (bass.pitch[after] % 12 == new)
    late &= (bass.start[after] >= at) & (bass.start[after] < roots.end[change])
    until = np.minimum(bass.start[after], bass.end[now])
    column[now[late]] = beats(chart, at[late], until[late])

    before = rows[np.maximum(place - 1, 0)]
    early = sounds & (tone == new) & (bass.pitch[before] % 12 == old)
    early &= bass.start[before] >= roots.start[change - 1]
    column[now[early]] = -beats(chart, bass.start[now[early]], at[early])


@reading("bass-note", unit="text")
def lag_in_words(chart: Chart) -> Column:
    """How long it is late or early at the change of chord, in words, such as 1.5 beats."""
    return named(np.abs(change_lag(chart)), beats_in_words)
