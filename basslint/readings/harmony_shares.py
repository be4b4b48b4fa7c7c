"""How much of each bass note does the harmony sound which tones?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.cover import sounding_clock
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column
from basslint.util.columns import distinct, order_of


@once_per_chart
def harmony_shares(chart: Chart) -> Column:
    """Share of each bass note during which the harmony sounds each pitch class, [m, 12]."""
    bass = chart.bass
    tones = np.broadcast_to(np.arange(12)[:, None], (12, len(bass)))
    return share_sounded(chart, tones, bass.start, bass.end).T


@once_per_chart
def own_share(chart: Chart) -> Column:
    """Share of each bass note during which the harmony sounds its pitch class, [m]."""
    bass = chart.bass
    return share_sounded(chart, bass.pitch.astype(np.int64) % 12, bass.start, bass.end)


def share_sounded(
    chart: Chart,
    tones: NDArray[np.int64],
    start: NDArray[np.int64],
    end: NDArray[np.int64],
    roles: tuple[str, ...] = ("harmony",),
) -> Column:
    """Share of each stretch from ``start`` to ``end`` (ticks, [m]) that parts of some roles sound
    its pitch class in ``tones`` [.., m]; with them what other parts strike as chords."""
    harmony = [i for i, role in enumerate(chart.parts.role) if role in roles]
    rows = distinct(np.concatenate((chart.song.rows_of(harmony), chart.chord_rows_elsewhere)))
    notes = chart.notes.take(rows)
    if not len(notes):
        return np.zeros(tones.shape)
    # a time line for each pitch class, one after the other: one clock runs over all of them
    line = int(max(notes.end.max(), end.max(initial=0))) + 1
    notes = notes.take(order_of(notes.pitch % 12))
    from_ = (notes.pitch % 12).astype(np.int64) * line
    clock = sounding_clock(from_ + notes.start, from_ + notes.end)
    sounds = clock(tones * line + end) - clock(tones * line + start)
    return np.asarray(sounds / np.maximum(end - start, 1))
