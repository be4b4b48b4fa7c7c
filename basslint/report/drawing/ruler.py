"""What stands above the pitches of a strip: bars, beats, phrases and chord roots."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from basslint.hear.chart import Chart
from basslint.hear.harmony.sources import SOURCES
from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Cells
from basslint.report.drawing.window import Window
from basslint.util.columns import distinct


def bars(chart: Chart, window: Window) -> Cells:
    """The number of each bar at its beginning."""
    grid, cells = chart.song.grid, Cells(window.width)
    first = int(grid.bar_of(window.start))
    for bar in range(first, grid.bars):
        start = max(int(grid.start[bar]), window.start)  # the first bar may begin to the left
        if start >= window.end:
            break
        cells.put(window.column(start), str(bar + 1), "ruler")
    return cells


def beats(chart: Chart, window: Window, start: int, end: int) -> Cells:
    """The number of each beat in its bar; beats from ``start`` to ``end`` (ticks) stand out."""
    grid, cells = chart.song.grid, Cells(window.width)
    first, stop = np.searchsorted(grid.beats[:-1], (window.start, window.end))
    for beat in range(int(first), int(stop)):
        tick, place = int(grid.beats[beat]), int(grid.beat_in_bar[beat])
        if window.per_beat > 1 or place == 0:
            style = "focus" if start <= tick < end else "ruler"
            cells.put(window.column(tick), str(place + 1), style)
    return cells


def phrases(chart: Chart, window: Window, unicode: bool) -> Cells | None:
    """Where phrases begin inside the window; None where none does."""
    grid, heard, cells = chart.song.grid, chart.phrases, Cells(window.width)
    body = marks.PHRASE_BODY.drawn(unicode)
    seen = False
    starts = grid.start[np.minimum(heard.start_bar, grid.bars)]
    ends = grid.start[np.minimum(heard.end_bar, grid.bars)]
    for row in np.flatnonzero((ends > window.start) & (starts < window.end)).tolist():
        start, end = int(starts[row]), int(ends[row])
        seen |= start > window.start or end < window.end
        first, stop = window.column(max(start, window.start)), window.column(min(end, window.end))
        lead = marks.PHRASE_START.drawn(unicode) if start >= window.start else body
        cells.put(first, body * (stop - first), "phrase")
        cells.put(first, f"{lead}{body} {heard.label[row]} "[: stop - first], "phrase")
    return cells if seen else None


def root_label(chart: Chart, start: int, end: int) -> str:
    """What the row of roots is called: by where they come from, where that is not MIDI alone."""
    heard = chart.roots
    inside = (heard.start < end) & (heard.end > start)
    sources = {SOURCES[s] for s in distinct(heard.source[inside]).tolist()}
    return {"stated": "stated", "loop": "loop"}.get("".join(sources), "root")


def roots(chart: Chart, window: Window, unicode: bool) -> Cells:
    """Each chord at its beginning, and once more at every bar line that it goes on over."""
    heard, cells = chart.roots, Cells(window.width)
    bar_lines = chart.song.grid.start
    spelled = chart.spelling_at(window.start)
    last = ""
    labels: dict[int, tuple[str, str]] = {}  # by column: name of the chord and of its root
    for row in np.flatnonzero((heard.start < window.end) & (heard.end > window.start)).tolist():
        start, end = max(int(heard.start[row]), window.start), int(heard.end[row])
        root = int(heard.root[row])
        name = marks.chord_at(heard, row, spelled)
        inside = bar_lines[(bar_lines >= start) & (bar_lines < min(end, window.end))].tolist()
        if name != last:
            inside.insert(0, start)
        for tick in inside:
            labels[window.column(tick)] = name, spelled[root] if root >= 0 else ""
        last = name
    for column, after in pairwise([*sorted(labels), window.width]):
        cells.put(column, marks.fitted(*labels[column], after - column, unicode), "root")
    return cells
