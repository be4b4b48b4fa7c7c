"""How is a bass brought onto what others do: the change of chord, the leading bass?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import fixer, retime
from basslint.fixes.edits import Fix
from basslint.fixes.moved import to_tone
from basslint.hear.chart import Chart
from basslint.readings.against_parts import other_bass_row
from basslint.readings.kicks import kick_at
from basslint.readings.notes import before_in_part

_ONE_STROKE_S = 0.04  # a kick no further from a change than this is its downbeat, as played


def _on_stroke(chart: Chart, tick: int) -> int:
    """The kick that sounds as one with a change of chord, or the change itself where none does."""
    kick = kick_at(chart, tick)
    if kick is None:
        return tick
    apart = chart.song.tempo.seconds(kick) - chart.song.tempo.seconds(tick)
    return kick if abs(apart) <= _ONE_STROKE_S else tick


@fixer(
    "change-with-harmony",
    of="bass-note",
    does="moves the point where the bass changes its root onto the harmony's change, or its kick",
)
def change_with_harmony(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Start a note with the change of chord, by ear: the time of a note is the player's.

    Early: it starts later; late: it ends earlier, and the next note starts where it ends. Where a
    kick plays the change, it is the kick's moment.
    """
    bass, roots, rows = chart.bass, chart.roots, chart.bass_rows
    start, end, tone = int(bass.start[row]), int(bass.end[row]), int(bass.pitch[row]) % 12
    near = chart.song.division // 8  # a hair before its own chord it has started with it
    change = int(np.searchsorted(roots.start, start + near, side="right"))
    if change >= len(roots) or int(roots.start[change]) >= end:
        return None
    at = int(roots.since[change])
    at = at if start < at < end else int(roots.start[change])
    kick = _on_stroke(chart, at)
    at = kick if start < kick < end else at
    if tone == int(roots.root[change]):  # early: the new root waits for the change
        edits = [retime(chart, int(rows[row]), "start", at)]
        last = int(before_in_part(bass)[row])
        if last >= 0 and int(bass.end[last]) == start:
            edits.append(retime(chart, int(rows[last]), "end", at))
        return Fix("Start the new root with the chord", "by-ear", tuple(edits))
    later = np.flatnonzero((bass.part == bass.part[row]) & (bass.start > start))
    if not len(later):
        return None
    after = int(later[0])
    edits = [
        retime(chart, int(rows[row]), "end", at),
        retime(chart, int(rows[after]), "start", at),
    ]
    return Fix("Change the bass with the chord", "by-ear", tuple(edits))


@fixer(
    "with-leading-bass",
    of="bass-note",
    does="moves the note to the one that the leading bass part sounds at that time, any octave",
)
def with_leading_bass(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note to the pitch class that the leading bass plays, by ear.

    Either part may be the one that is right.
    """
    other = int(other_bass_row(chart)[row])
    if other < 0:
        return None
    return to_tone(chart, row, int(chart.notes.pitch[other]) % 12, "by-ear")
