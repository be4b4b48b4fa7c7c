"""How is a stretch of the bass that lies off as a whole brought back?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import fixer, repitch
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.theory.general_midi import HIGHEST_KEY


@fixer(
    "stretch-to-harmony",
    of="stretch",
    does="moves every note of the stretch, or of the part that lies off there, onto the others",
)
def stretch_to_harmony(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Transpose the stretch, or the part that lies off there, onto the others; all notes or none.

    By ear: the notes may be right as they are, and the sampler off.
    """
    shifts, notes, side = chart.shifts, chart.song.notes, chart.sides[row]
    way = -int(shifts.semitones[row])
    parts: tuple[int, ...] = (int(shifts.part[row]),)
    if side.side == "others":
        way, parts = -way, side.asking
    rows = chart.song.rows_of(parts)
    rows = rows[(notes.start[rows] >= shifts.start[row]) & (notes.start[rows] < shifts.end[row])]
    moved = notes.pitch[rows].astype(np.int64) + way
    if not len(rows) or moved.min() < 0 or moved.max() > HIGHEST_KEY:
        return None
    edits = tuple(
        repitch(chart, note, pitch)
        for note, pitch in zip(rows.tolist(), moved.tolist(), strict=True)
    )
    names = " and ".join(chart.song.parts[part].name for part in parts)
    return Fix(f"Move all of {names} there by {way:+d}".replace("-", "−"), "by-ear", edits)
