"""How much of each bass note does the harmony sound which tones?"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.cover import sounding_clock
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column
from basslint.util.columns import distinct, order_of

_HARMONY = ("harmony",)
_TimeLines = tuple[Callable[[NDArray[np.int64]], NDArray[np.float64]], int]


@once_per_chart
def harmony_shares(chart: Chart) -> Column:
    """Share of each bass note during which the harmony sounds each pitch class, [m, 12]."""
    bass = chart.bass
    tones = np.broadcast_to(np.arange(12)[:, None], (12, len(bass)))
    return share_sounded(chart, tones, bass.start, bass.end).T


def share_sounded(
    chart: Chart,
    tones: NDArray[np.int64],
    start: NDArray[np.int64],
    end: NDArray[np.int64],
    roles: tuple[str, ...] = _HARMONY,
) -> Column:
    """Share of each stretch from ``start`` to ``end`` (ticks, [m]) that parts of some roles sound
    its pitch class in ``tones`` [.., m]; with them what other parts strike as chords, and the
    chance that a loop of sound has it."""
    known = _of_harmony(chart) if roles == _HARMONY else _time_lines(chart, roles)
    if known is None:
        share = np.zeros(tones.shape)
    else:
        clock, line = known
        last = line - 1  # nothing sounds from there to the next line
        sounds = clock(tones * line + np.minimum(end, last))
        sounds -= clock(tones * line + np.minimum(start, last))
        share = np.asarray(sounds / np.maximum(end - start, 1))
    if chart.loops is None:
        return share
    heard = chart.loops.during(start, end)
    return np.maximum(share, heard[np.arange(len(start)), tones])


@once_per_chart
def _of_harmony(chart: Chart) -> _TimeLines | None:
    return _time_lines(chart, _HARMONY)


def _time_lines(chart: Chart, roles: tuple[str, ...]) -> _TimeLines | None:
    """A time line for each pitch class, one after the other; None where nothing sounds.

    Gives a clock that runs over all of them, and the ticks from one line to the next.
    """
    rows = chart.song.rows_of([i for i, role in enumerate(chart.parts.role) if role in roles])
    elsewhere = chart.chord_rows_elsewhere
    if len(elsewhere):
        rows = distinct(np.concatenate((rows, elsewhere)))
    if not len(rows):
        return None
    notes = chart.notes
    tone = notes.pitch[rows] % 12
    order = order_of(tone)
    rows, tone = rows[order], tone[order].astype(np.int64)
    end = notes.end[rows]
    line = int(end.max()) + 1
    return sounding_clock(tone * line + notes.start[rows], tone * line + end), line
