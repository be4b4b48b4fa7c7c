"""How is a bass part that lies off the drums brought onto them?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import fixer, retime
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.smf.status import BEND

_ROUNDING_S = 0.01  # a note on the song's first tick may round to just before it


def bend_moves(chart: Chart, part: int) -> bool:
    """Does the pitch bend of a part move, so that its notes cannot be moved without it?"""
    changes = chart.song.changes
    bent = changes.channel[(changes.kind == BEND) & (changes.value != 0)]
    return bool((bent == chart.song.parts[part].channel).any())


@fixer("part-onto-drums", of="lag", does="moves every note of the part by its lag to the drums")
def part_onto_drums(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: it may be the player's feel. All notes move, or none: none may begin before 0, and a
    wheel would stay behind."""
    lags, tempo = chart.lags, chart.song.tempo
    rows = chart.bass_rows[chart.bass.part == lags.part[row]]
    late = float(lags.seconds[row])
    start = tempo.seconds(chart.song.notes.start[rows]) - late
    if not len(rows) or start.min() < -_ROUNDING_S or bend_moves(chart, int(lags.part[row])):
        return None
    ticks = np.asarray(tempo.ticks(np.maximum(start, 0.0)))
    each = zip(rows.tolist(), ticks.tolist(), strict=True)
    edits = tuple(retime(chart, note, "move", tick) for note, tick in each)
    name = chart.song.parts[int(lags.part[row])].name
    way = "earlier" if late > 0 else "later"
    return Fix(f"Move all of {name} {abs(late) * 1000:.0f} ms {way}", "by-ear", edits)
