"""How accented does a bass note stand in its bar, and which one comes after it in its part?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import before_in_part

ON_BEAT = 0.1  # beats: as far from a beat, by hand, a note still starts on it


@reading("bass-note", unit="levels", source="Lerdahl and Jackendoff 1983: metrical structure")
def accent(chart: Chart) -> Column:
    """How strong its place in the bar is: 3 on the bar line, 2 mid-bar, 1 a beat, 0 off it."""
    beat = chart.song.grid.beat_of(chart.bass.start)
    count = chart.song.grid.numerator[chart.song.grid.bar_of(chart.bass.start)]
    near = np.rint(beat)
    middle = (count % 2 == 0) & (near == count // 2 + 1)
    level = np.where(near == 1, 3.0, np.where(middle, 2.0, 1.0))
    return np.where(np.abs(beat - near) > ON_BEAT, 0.0, level)


@once_per_chart
def after_in_part(chart: Chart) -> NDArray[np.intp]:
    """The row of the next note of each note's part, [m]; −1 where there is none."""
    last = before_in_part(chart.bass)
    after = np.full(len(last), -1, dtype=np.intp)
    rows = (last >= 0).nonzero()[0]
    after[last[rows]] = rows
    return after
