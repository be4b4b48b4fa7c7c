"""Where in the song is what? Bars as columns, eight a row, with roots, phrases, line and fills."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.report.drawing import marks, ruler
from basslint.report.drawing.canvas import Cells, Row, labelled
from basslint.report.drawing.look import Look
from basslint.report.drawing.marks import Mark
from basslint.util.records import record

GUTTER = 7  # "phrase" and a space
LEAST_BAR, MOST_BAR = 8, 12  # columns of a bar: a chord name in each half

Span = tuple[int, int, str]


@record(kw_only=True)
class _System:
    """One row of bars: ``first`` to ``last`` (exclusive, from 0), ``wide`` columns each.

    ``phrases``, ``patterns``: those of the song as (first bar, bar after the last, name).
    """

    chart: Chart
    look: Look
    first: int
    last: int
    wide: int
    phrases: list[Span]
    patterns: list[Span]

    @property
    def start(self) -> int:
        return int(self.chart.song.grid.start[self.first])

    @property
    def end(self) -> int:
        return int(self.chart.song.grid.start[self.last])

    def cells(self) -> Cells:
        return Cells(self.wide * (self.last - self.first))

    def column(self, tick: int) -> int:
        """Column of a tick; bars are equally wide whatever their length."""
        start = self.chart.song.grid.start
        bar = int(np.searchsorted(start, tick, side="right")) - 1
        bar = min(max(bar, self.first), self.last - 1)
        inside = (tick - int(start[bar])) / (int(start[bar + 1]) - int(start[bar]))
        return (bar - self.first) * self.wide + int(max(inside, 0.0) * self.wide)

    def draw(self) -> tuple[Row, ...]:
        rows: list[Row | None] = [
            self._ruler(),
            self._spans("phrase", self.phrases, "phrase"),
            self._roots(),
        ]
        rows += [self._spans("bass", self.patterns, "quiet"), *self._moves()]
        return tuple(r for r in rows if r is not None)

    def _row(self, label: str, cells: Cells) -> Row:
        return labelled(f"{label:>{GUTTER - 1}} ", "ruler", cells)

    def _ruler(self) -> Row:
        cells = self.cells()
        for bar in range(self.first, self.last):
            cells.put((bar - self.first) * self.wide, str(bar + 1), "ruler")
        return self._row("bar", cells)

    def _spans(self, label: str, spans: list[Span], style: str) -> Row | None:
        """Labelled stretches of bars as lines that begin with a sign."""
        begin = marks.PHRASE_START.drawn(self.look.unicode)
        body = marks.PHRASE_BODY.drawn(self.look.unicode)
        cells, used = self.cells(), False
        begun = bisect_right(spans, self.first, key=lambda span: span[1])  # spans follow each other
        for start, end, name in spans[begun:]:
            if start >= self.last:
                break
            used = True
            left = (max(start, self.first) - self.first) * self.wide
            right = (min(end, self.last) - self.first) * self.wide
            lead = begin if start >= self.first else body
            text = f"{lead}{body} {name} "
            if len(text) > right - left:
                text = f"{lead}{name}"
            cells.put(left, body * (right - left - 1), style)
            cells.put(left, text[: right - left - 1], style)
        return self._row(label, cells) if used else None

    def _roots(self) -> Row:
        """Chord names where they begin; what goes on is not said again within a row."""
        roots, cells = self.chart.roots, self.cells()
        shown = np.flatnonzero((roots.start < self.end) & (roots.end > self.start))
        free, last = 0, ""
        for row in shown.tolist():
            spelled = self.chart.spelling_at(int(roots.start[row]))
            root = int(roots.root[row])
            name = marks.chord_at(roots, row, spelled)
            column = max(self.column(max(int(roots.start[row]), self.start)), free)
            stop = self.column(int(roots.end[row])) if int(roots.end[row]) < self.end else None
            room = (cells.width if stop is None else stop) - column
            name = marks.fitted(name, spelled[root] if root >= 0 else "", room, self.look.unicode)
            if not name or name == last == "?":
                continue
            last = name
            cells.put(column, name, "root")
            free = column + len(name) + 1
        return self._row(ruler.root_label(self.chart, self.start, self.end), cells)

    def _moves(self) -> list[Row]:
        """Slides and fills, a row each where there are any."""
        rows: list[Row] = []
        slides, fills, unicode = self.chart.slides, self.chart.fills, self.look.unicode
        cells = self.cells()
        seen = np.flatnonzero((slides.start >= self.start) & (slides.start < self.end))
        for row in seen.tolist():
            up = float(slides.target[row]) >= float(slides.origin[row])
            mark: Mark = marks.RISE if up else marks.FALL
            cells.put(self.column(int(slides.start[row])), mark.drawn(unicode), mark.style)
        if len(seen):
            rows.append(self._row("slides", cells))
        cells = self.cells()
        seen = np.flatnonzero((fills.start < self.end) & (fills.end > self.start))
        for row in seen.tolist():
            first = self.column(max(int(fills.start[row]), self.start))
            end = int(fills.end[row])
            stop = cells.width if end >= self.end else self.column(end)
            sign = marks.FILL.drawn(unicode) * max(1, stop - first)
            cells.put(first, sign, marks.FILL.style)
        if len(seen):
            rows.append(self._row("fills", cells))
        return rows


def song_map(chart: Chart, look: Look) -> list[tuple[Row, ...]]:
    """The rows of each system: as many bars of 8, 4, 2 or 1 as the width holds."""
    room = max(look.width - GUTTER, LEAST_BAR)
    per_row = next((n for n in (8, 4, 2) if n * LEAST_BAR <= room), 1)
    wide = min(room // per_row, MOST_BAR)
    bars, phrases, pattern = chart.song.grid.bars, chart.phrases, chart.pattern
    spans = _spans_of(phrases.start_bar, phrases.end_bar, phrases.label)
    patterns = _spans_of(pattern.start_bar, pattern.end_bar, pattern.kind)
    return [
        _System(
            chart=chart,
            look=look,
            first=first,
            last=min(first + per_row, bars),
            wide=wide,
            phrases=spans,
            patterns=patterns,
        ).draw()
        for first in range(0, bars, per_row)
    ]


def _spans_of(start: NDArray[np.int64], end: NDArray[np.int64], names: Sequence[str]) -> list[Span]:
    return list(zip(start.tolist(), end.tolist(), names, strict=True))
