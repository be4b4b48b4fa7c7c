"""How likely is a pitch one of the scale's, all scales that the song may be in taken together?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading


def of_scale(
    chart: Chart, tick: NDArray[np.int64], pitch: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Chance that each pitch is of the scale in force at its tick, [n]; NaN where no key is told.

    A note of the scale as heard is as sure as that scale at least; any other as unlikely as all
    likely scales together make it. So it may be plain where the scale itself is not.
    """
    keys, row, tone = chart.keys, chart.key_at(tick), pitch % 12
    if not len(keys.start):
        return np.full(len(row), np.nan)
    fit = keys.fit[row, tone]  # −1, no key: what it looks up is not told
    inside = np.maximum(fit, keys.scale_certainty[row])
    return np.where(row >= 0, np.where(keys.scale[row, tone], inside, fit), np.nan)


@reading("bass-note", unit="share")
def in_scale_chance(chart: Chart) -> Column:
    """How likely it is of the scale, all scales that the song may be in taken together, 0 to 1."""
    return of_scale(chart, chart.bass.start, chart.bass.pitch.astype(np.int64))


@reading("bass-note", unit="pitch classes")
def foreign_beside(chart: Chart) -> Column:
    """How many other tones outside the scale its part has in its bar and the bars beside it.

    A slip stands alone; a line that leaves the scale with two tones has gone elsewhere.
    """
    bass, grid = chart.bass, chart.song.grid
    tone, row = bass.pitch.astype(np.int64) % 12, chart.key_at(bass.start)
    known = (row >= 0).nonzero()[0]
    foreign = np.zeros(len(bass), dtype=bool)
    foreign[known] = ~chart.keys.scale[row[known], tone[known]]
    count = np.zeros(len(bass))
    if not np.count_nonzero(foreign):
        return count
    # a bar of nothing before the first and after the last, so that each has a bar on either side
    at = bass.part.astype(np.int64) * (grid.bars + 2) + grid.bar_of(bass.start) + 1
    has = np.zeros((int(at.max()) + 2, 12), dtype=bool)
    has[at[foreign], tone[foreign]] = True
    has[1:-1] |= has[:-2] | has[2:]
    count[:] = has[at].sum(axis=1) - has[at, tone]
    return count


@reading("slide", unit="share")
def landing_in_scale_chance(chart: Chart) -> Column:
    """How likely its landing is of the scale, all scales that may be meant together, 0 to 1."""
    slides = chart.slides
    return of_scale(
        chart, slides.land, np.rint(slides.target + chart.tuning.shift).astype(np.int64)
    )
