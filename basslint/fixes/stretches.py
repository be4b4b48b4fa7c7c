"""How is a stretch of the bass that lies off as a whole brought back?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import HIGHEST, fixer, repitch
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart


@fixer(
    "stretch-to-harmony",
    of="stretch",
    does="moves every note of the stretch by the semitones that bring it onto the other parts",
)
def stretch_to_harmony(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: the other parts may be what is off, or the sampler. All notes move, or none."""
    shifts, bass = chart.shifts, chart.bass
    inside = (bass.start >= shifts.start[row]) & (bass.start < shifts.end[row])
    rows = chart.bass_rows[np.flatnonzero(inside & (bass.part == shifts.part[row]))]
    way = -int(shifts.semitones[row])
    moved = chart.song.notes.pitch[rows].astype(np.int64) + way
    if not len(rows) or moved.min() < 0 or moved.max() > HIGHEST:
        return None
    edits = tuple(
        repitch(chart, note, pitch)
        for note, pitch in zip(rows.tolist(), moved.tolist(), strict=True)
    )
    name = chart.song.parts[int(shifts.part[row])].name
    return Fix(f"Move all of {name} there by {way:+d}".replace("-", "−"), "by-ear", edits)
