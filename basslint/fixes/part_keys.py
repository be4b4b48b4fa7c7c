"""How is a bass part that plays in another key brought into that of the others?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import fixer, repitch
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.readings.part_keys import moves_to_agree, their_key
from basslint.theory.general_midi import HIGHEST_KEY


@fixer(
    "part-to-key",
    of="part-key",
    does="moves the part's tones to the same degrees of the others' key, or all of it by one shift",
)
def part_to_key(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a part's tones into the key of the others, all of them or none.

    By ear: the others may be what is in the wrong key.
    """
    way = np.zeros(12, dtype=np.int64)
    for tone, by in moves_to_agree(chart, row).items():
        way[tone] = by
    mine = chart.bass.part == chart.two_keys.part[row]
    moved_by = way[chart.bass.pitch[mine].astype(np.int64) % 12]
    rows = chart.bass_rows[mine][moved_by != 0]
    pitch = chart.song.notes.pitch[rows].astype(np.int64) + moved_by[moved_by != 0]
    if not len(rows) or pitch.min() < 0 or pitch.max() > HIGHEST_KEY:
        return None
    pairs = zip(rows.tolist(), pitch.tolist(), strict=True)
    name = chart.song.parts[int(chart.two_keys.part[row])].name
    edits = tuple(repitch(chart, note, to) for note, to in pairs)
    return Fix(f"Bring {name} into {their_key(chart)[row]}", "by-ear", edits)
