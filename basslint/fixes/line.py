"""What does each bass part play, by itself?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.util.records import record


@record(eq=False, kw_only=True)
class Line:
    """One bass part by itself, columns [n] in order of time.

    ``rows``: its rows in `Chart.bass`; ``pitch`` is what sounds, ``written`` the key; ``reach``:
    the latest end so far, so that what still sounds at a moment is found without looking at all
    notes; ``used``: its pitches, rising, with counts.
    """

    rows: NDArray[np.intp]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int16]
    written: NDArray[np.int16]
    reach: NDArray[np.int64]
    used: tuple[tuple[int, int], ...]


@once_per_chart
def lines_of(chart: Chart) -> dict[int, Line]:
    """Every bass part by its index in ``song.parts``."""
    lines: dict[int, Line] = {}
    for part in chart.bass.parts:
        rows = np.flatnonzero(chart.bass.part == part)
        notes = chart.bass.take(rows)
        counts = np.bincount(notes.pitch)
        pitches = counts.nonzero()[0]
        used = tuple(zip(pitches.tolist(), counts[pitches].tolist(), strict=True))
        reach = np.maximum.accumulate(notes.end)
        written = chart.sounding.written[rows]
        lines[part] = Line(
            rows=rows,
            start=notes.start,
            end=notes.end,
            pitch=notes.pitch,
            written=written,
            reach=reach,
            used=used,
        )
    return lines
