"""Is a bass that lies off as a whole told, and never one that does not?

``python tests/bench/shifts.py SONGS [STEP]``: every STEP-th song of a folder, as `slips.py` reads
it. The bass parts as written, the whole of them moved by ±1, ±2 and 5 semitones, eight and four
bars from the middle moved by one, the whole late by 60 ms, and early by a quarter and by half
a bar: told, and by how much.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
from real_songs import heard_songs
from slip_faults import moved

from basslint.hear.chart import Chart

WAYS = (1, -1, 2, -2, 5)
SURE = 0.45  # as the page bass-misplaced has it


def delayed(chart: Chart, seconds: float) -> Chart:
    """The chart with all bass notes later by so many seconds."""
    notes, tempo = chart.song.notes, chart.song.tempo
    start, rows = notes.start.copy(), chart.bass_rows
    start[rows] = tempo.ticks(tempo.seconds(start[rows]) + seconds)
    song = replace(chart.song, notes=replace(notes, start=start))
    return Chart(song, chart.facts, chart.path).with_parts_of(chart)


def ahead(chart: Chart, quarters: float) -> Chart:
    """The chart with all bass notes so many quarters earlier, none before the song begins."""
    notes = chart.song.notes
    start, end, rows = notes.start.copy(), notes.end.copy(), chart.bass_rows
    by = int(quarters * chart.song.division)
    start[rows] = np.maximum(start[rows] - by, 0)
    end[rows] = np.maximum(end[rows] - by, start[rows] + 1)
    order = np.lexsort((notes.part, notes.pitch, start))
    song = replace(chart.song, notes=replace(notes, start=start, end=end).take(order))
    return Chart(song, chart.facts, chart.path).with_parts_of(chart).with_roots_of(chart)


def main(words: list[str]) -> int:
    """Measure and print."""
    folder = Path(words[0]) if words else Path("songs")
    step = int(words[1]) if len(words) > 1 else 1
    told: Counter[str] = Counter()
    asked: Counter[str] = Counter()
    for _, _, chart in heard_songs(folder, step):
        asked["as written, whole"] += 1
        told["as written, whole"] += bool(chart.shifts.whole.any())
        asked["as written, a stretch"] += 1
        told["as written, a stretch"] += bool((~chart.shifts.whole).any())
        every = np.arange(len(chart.bass))
        for way in WAYS:
            found = moved(chart, every, way).shifts
            asked[f"whole by {way:+d}"] += 1
            told[f"whole by {way:+d}"] += bool((found.whole & (found.semitones == way)).any())
        late = delayed(chart, 0.06).lags
        asked["late by 60 ms"] += bool(chart.parts.drums)
        told["late by 60 ms"] += bool((np.abs(late.seconds - 0.06) < 0.01).any())
        asked["as written, late"] += bool(chart.parts.drums)
        told["as written, late"] += bool(len(chart.lags.part))
        asked["as written, early or late"] += 1
        told["as written, early or late"] += bool((chart.displacements.certainty > SURE).any())
        grid = chart.song.grid
        half = (grid.start[grid.bars // 2 + 1] - grid.start[grid.bars // 2]) / 2
        for name, by in (("a quarter", chart.song.division), ("half a bar", int(half))):
            found_at = ahead(chart, by / chart.song.division).displacements
            sure = found_at.certainty > SURE
            asked[f"early by {name}"] += 1
            told[f"early by {name}"] += bool(((found_at.ticks == -by) & sure).any())
        middle = chart.song.grid.bars // 2
        bar = chart.song.grid.bar_of(chart.bass.start)
        for size, name in ((8, "eight bars by +1"), (4, "four bars by +1")):
            rows = np.flatnonzero((bar >= middle) & (bar < middle + size))
            if chart.song.grid.bars >= 24 and len(rows) >= 2 * size:
                found = moved(chart, rows, 1).shifts
                asked[name] += 1
                told[name] += bool((found.semitones == 1).any())
    for kind, count in asked.items():
        print(f"{kind:24} told {told[kind]:4} of {count:4} = {told[kind] / count:.3f}")
    return 0 if asked else 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
