"""How is a bass part that lies an octave too high as a whole brought down?"""

from __future__ import annotations

from collections.abc import Mapping

from basslint.fixes.base import fixer, repitch
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart

_OCTAVE = 12


@fixer("part-octave-down", of="high-part", does="moves every note of the part an octave down")
def part_octave_down(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a whole part an octave down, by ear: it may be meant to sing up there."""
    part = int(chart.high_parts.part[row])
    rows = chart.bass_rows[chart.bass.part == part]
    pitch = chart.song.notes.pitch[rows].astype(int) - _OCTAVE
    if pitch.min() < 0:
        return None
    pairs = zip(rows.tolist(), pitch.tolist(), strict=True)
    edits = tuple(repitch(chart, note, to) for note, to in pairs)
    return Fix(f"Move all of {chart.song.parts[part].name} an octave down", "by-ear", edits)
