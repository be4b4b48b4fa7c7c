"""How is a bass part, or some of it, that lies off its place in time brought back?"""

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
    does="moves the part, or what lies off of it, to its place",
)
def part_to_place(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move what lies off to its place, by ear: a canon is meant so.

    All its notes move or none: none may begin before 0, and a pitch wheel would stay behind.
    """
    moved, notes = chart.displacements, chart.song.notes
    part, by = int(moved.part[row]), int(moved.ticks[row])
    rows = chart.bass_rows[moved.notes_of(row, chart.bass)]
    if notes.start[rows].min() < by or bend_moves(chart, part):
        return None
    edits = tuple(retime(chart, n, "move", int(notes.start[n]) - by) for n in rows.tolist())
    far, way = str(displaced_words(chart)[row]).rsplit(" ", 1)
    back = "later" if way == "early" else "earlier"
    name = chart.song.parts[part].name
    what = (f"all of {name}", f"these {len(edits)} notes of {name}", "the hit")[moved.extent[row]]
    return Fix(f"Move {what} {far} {back}", "by-ear", edits)
