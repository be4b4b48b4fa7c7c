"""How is a bass part that lies an eighth, a quarter or (half) a bar off the rest brought back?"""

from __future__ import annotations

from collections.abc import Mapping

from basslint.fixes.base import fixer, retime
from basslint.fixes.edits import Fix
from basslint.fixes.lags import bend_moves
from basslint.hear.chart import Chart
from basslint.readings.displacements import displaced_words


@fixer(
    "part-to-place",
    of="displacement",
    does="moves every note of the part to where it meets the rest",
)
def part_to_place(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a whole part in time to where it meets the rest, by ear: a canon is meant so.

    All notes move or none: none may begin before 0, and a pitch wheel would stay behind.
    """
    moved, notes = chart.displacements, chart.song.notes
    part, by = int(moved.part[row]), int(moved.ticks[row])
    rows = chart.bass_rows[chart.bass.part == part]
    if notes.start[rows].min() < by or bend_moves(chart, part):
        return None
    edits = tuple(retime(chart, n, "move", int(notes.start[n]) - by) for n in rows.tolist())
    far, way = str(displaced_words(chart)[row]).rsplit(" ", 1)
    back = "later" if way == "early" else "earlier"
    return Fix(f"Move all of {chart.song.parts[part].name} {far} {back}", "by-ear", edits)
