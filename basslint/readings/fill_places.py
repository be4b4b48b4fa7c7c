"""Does the song itself show where its fills belong? Common practice, no source."""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.hear.form.phrases import section_markers
from basslint.readings.base import Column, reading
from basslint.readings.fills import beats_from_four_bars

_LEADS_IN = 1.0  # beats: a fill this near to where four bars end leads into what follows


@reading("fill", unit="yes or no")
def phrases_marked(chart: Chart) -> Column:
    """Do markers in the file say where phrases begin?"""
    marked = bool(section_markers(chart.song.markers, chart.song.grid))
    return np.full(len(chart.fills), marked)


@reading("fill", unit="share", source="common practice")
def others_in_place(chart: Chart) -> Column:
    """Of the song's other fills, how many end within a beat of where four bars end, 0 to 1.

    0 where it is the only one.
    """
    with np.errstate(invalid="ignore"):
        there = beats_from_four_bars(chart) <= _LEADS_IN
    share: Column = (np.count_nonzero(there) - there) / max(len(there) - 1, 1)
    return share
