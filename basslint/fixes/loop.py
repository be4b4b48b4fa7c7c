"""What does a bass part play at the place of a note where its loop comes round?"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.notes import bar_and_place
from basslint.util.columns import distinct
from basslint.util.records import record

_PLACES = 8  # places in a quarter: thirty-seconds, so that ragged notes share one
_REACH = 64  # bars looked at on either side: bounds time
_ALIKE = 0.6  # share of the notes around that must come back for the place to be the same


@record(eq=False)
class _Line:
    """One part's notes, columns [n] in order of time.

    ``rows`` of `Chart.bass`; bar, place in the bar, pitch.
    """

    rows: NDArray[np.intp]
    bar: NDArray[np.int64]
    place: NDArray[np.int64]
    pitch: NDArray[np.int64]


@once_per_chart
def _lines(chart: Chart) -> dict[int, _Line]:
    """Every bass part by its index."""
    bass = chart.bass
    bar, place = bar_and_place(chart, bass.start, _PLACES)
    lines: dict[int, _Line] = {}
    for part in distinct(bass.part).tolist():
        mine = np.flatnonzero(bass.part == part)
        lines[part] = _Line(mine, bar[mine], place[mine], bass.pitch[mine].astype(np.int64))
    return lines


def elsewhere(chart: Chart, row: int, alike: float = _ALIKE) -> int | None:
    """The bass note at the place of ``row`` in the bar most like its own; None if none is.

    One of another pitch. Gives its row, as ``row`` is one. ``alike``: the share of the notes around
    that must come back.

    Bars are alike in what the part plays in them and in the bars before and after, the note itself
    left out: a share of its notes at the same thirty-second with the same pitch. A part that plays
    a loop shows so what was meant at one place by what it plays there the other times.
    """
    line = _lines(chart)[int(chart.bass.part[row])]
    own = int(np.searchsorted(line.rows, row))
    bar, place, pitch = int(line.bar[own]), int(line.place[own]), int(line.pitch[own])
    low, high = np.searchsorted(line.bar, (bar - _REACH - 1, bar + _REACH + 2))
    bars, places, pitches = (c[low:high] for c in (line.bar, line.place, line.pitch))
    size = 2 * _REACH + 5
    at = bars - (bar - _REACH - 2)  # the note's own bar stands at _REACH + 2
    same, asked = np.zeros(size + 2), 0  # one bar more at either end
    voices = places * 128 + pitches
    itself = own - int(low)
    heard = np.zeros(int(voices.max()) + 1, dtype=bool)
    edges = np.searchsorted(bars, np.arange(bar - 1, bar + 3)).tolist()
    for away, (first, after) in zip((-1, 0, 1), pairwise(edges), strict=True):
        wanted = voices[first:after]
        if away == 0:
            wanted = np.concatenate((voices[first:itself], voices[itself + 1 : after]))
        asked += len(wanted)
        heard[wanted] = True
        found = np.bincount(at[heard[voices]], minlength=size)
        same[1 - away : size + 1 - away] += np.minimum(found, len(wanted))
        heard[wanted] = False
    same = same[1:-1]
    here = np.flatnonzero((np.abs(places - place) <= 1) & (bars != bar) & (pitches != pitch))
    here = here[(at[here] > 1) & (at[here] < size - 2)]
    if not len(here) or not asked:
        return None
    like = same[at[here]]
    here = here[like == like.max()]
    best = here[np.abs(bars[here] - bar).argmin()]  # of equally like bars, the nearest
    return int(line.rows[low + best]) if same[at[best]] >= alike * asked else None
