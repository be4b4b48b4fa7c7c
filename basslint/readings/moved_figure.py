"""Is the bar of a bass note the figure of a bar beside it, moved as a whole?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import bar_and_place
from basslint.util.columns import distinct, ends_of, turns

_PLACES = 4  # places in a quarter: a figure that comes back stands on the same sixteenths
_SHAPE = 3  # different pitches that make a shape: two moved by chance are an interval
_BESIDE = 2  # bars before and after
Ints = NDArray[np.int64]


@reading("bass-note", unit="yes or no", source="common practice: sequences")
def figure_moved(chart: Chart) -> Column:
    """Does its bar repeat one of the two bars before or after it, all notes moved by as much?

    F–C–A♭–C after G–D–B♭–D: three pitches or more on the same sixteenths. A slip of the hand
    breaks the shape of its figure, so a note that keeps it was chosen.
    """
    bass = chart.bass
    column = np.zeros(len(bass), dtype=bool)
    bar, place = bar_and_place(chart, bass.start, _PLACES)
    pitch = bass.pitch.astype(np.int64)
    for part in distinct(bass.part).tolist():
        rows = (bass.part == part).nonzero()[0]
        first = turns(bar[rows]).nonzero()[0]
        of_bar = {
            int(bar[rows[a]]): rows[a:b]
            for a, b in zip(first.tolist(), ends_of(first, len(rows)).tolist(), strict=True)
        }
        for own, mine in of_bar.items():
            if len(distinct(pitch[mine])) < _SHAPE:
                continue
            for by in (-_BESIDE, -1, 1, _BESIDE):
                other = of_bar.get(own + by)
                if other is not None and _moved(place, pitch, mine, other):
                    column[mine] = True
    return column


def _moved(place: Ints, pitch: Ints, mine: Ints, other: Ints) -> bool:
    """Whether two bars of notes, rows, stand on the same places, one moved from the other."""
    if len(mine) != len(other) or (place[mine] != place[other]).any():
        return False
    way = pitch[mine] - pitch[other]
    return bool(way[0] != 0 and (way == way[0]).all())
