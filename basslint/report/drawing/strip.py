"""What does the line look like around a place, in a few rows of text?

Bar and beat ruler on top, chord roots below it, then pitches as rows. A strip is plain data; the
text report colours it, and it says the same without colours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from basslint.hear.chart import Chart
from basslint.judging.results import Finding
from basslint.report.drawing import marks, ruler
from basslint.report.drawing.canvas import Cells, Row, labelled
from basslint.report.drawing.focus import Focus, focus_on
from basslint.report.drawing.labels import Labels
from basslint.report.drawing.look import Look
from basslint.report.drawing.velocities import velocity_rows
from basslint.report.drawing.window import choose, pitch_rows


def finding_strip(
    chart: Chart, finding: Finding, look: Look, others: Sequence[Finding] = ()
) -> tuple[Row, ...]:
    """The strip around a finding; no rows where it points at no note.

    ``others``: findings of the same fault, marked too where the strip shows them.
    """
    focus = focus_on(chart, finding)
    return _Strip(chart, focus, look, others).rows() if focus else ()


def stretch_strip(
    chart: Chart, part: int, start: int, end: int, look: Look, finest: int | None = None
) -> tuple[Row, ...]:
    """The strip of a part (index into song.parts) over a stretch of ticks, nothing marked.

    ``finest``: the shortest length (ticks) that should get a column of its own.
    """
    focus = Focus(part=part, start=start, end=end, finest=finest)
    return _Strip(chart, focus, look).rows()


class _Strip:
    """One drawing in the making."""

    def __init__(
        self, chart: Chart, focus: Focus, look: Look, others: Sequence[Finding] = ()
    ) -> None:
        self.chart, self.focus, self.look = chart, focus, look
        self.labels = Labels(chart, focus, look)
        self.gutter = self.labels.gutter()
        notes = chart.song.notes
        lengths = [int(notes.end[i] - notes.start[i]) for i in focus.written]
        lengths += [b.end - b.start for b in focus.mended]
        if focus.slide is not None:
            lengths.append(focus.end - focus.start)
        if focus.finest is not None:
            lengths.append(focus.finest)
        finest = max(1, min(lengths)) if lengths else chart.song.division // 4
        self.window = choose(
            chart.song.grid, focus.start, focus.end, finest, max(12, look.width - self.gutter)
        )
        w = self.window
        near = [f for f in others if w.start <= f.where.tick < w.end]
        also = (focus_on(chart, f) for f in near)
        self.foci = (focus, *(f for f in also if f is not None and f.part == focus.part))
        self.written = frozenset().union(*(f.written for f in self.foci))
        self.mended = tuple(bar for f in self.foci for bar in f.mended)
        self.at_fault = {f.slide for f in self.foci if f.slide is not None}
        mine = chart.song.rows_of([focus.part])
        self.shown = mine[(notes.start[mine] < w.end) & (notes.end[mine] > w.start)]
        bars = chart.song.grid.start
        inside = bars[(bars >= w.start) & (bars < w.end)]
        self.bar_columns = {w.column(int(t)) for t in inside}
        onsets = zip(
            notes.pitch[self.shown].tolist(), notes.start[self.shown].tolist(), strict=True
        )
        self.hits = Counter((pitch, w.column(start)) for pitch, start in onsets)
        self.pitches = self._pitches()
        bar_lines = self._bar_lines()
        self.lines = {p: bar_lines.copy() for p in self.pitches}

    def rows(self) -> tuple[Row, ...]:
        """Rulers, roots, pitches, and velocities where they are the matter."""
        for row in self.shown.tolist():
            self._draw_note(row)
        self._draw_slides()
        self._draw_mended()
        result = [labelled(self._label(name), "ruler", cells) for name, cells in self._above()]
        for pitch in self.pitches:
            cells = self.lines[pitch]
            found = [m for m in (marks.AS_WRITTEN, marks.AS_MENDED) if cells.has(m.style)]
            style = found[0].style if found else "plain"
            sign = "".join(m.drawn(self.look.unicode) for m in found)
            result.append(labelled(self._label(self.labels.name(pitch), sign), style, cells))
        return tuple(result + self._kicks() + self._loudness())

    def _above(self) -> list[tuple[str, Cells]]:
        w, focus, unicode = self.window, self.focus, self.look.unicode
        lines = [
            ("bar", ruler.bars(self.chart, w)),
            ("beat", ruler.beats(self.chart, w, focus.start, focus.end)),
        ]
        phrases = ruler.phrases(self.chart, w, unicode)
        if phrases is not None:
            lines.append(("phrase", phrases))
        return [
            *lines,
            (ruler.root_label(self.chart, w.start, w.end), ruler.roots(self.chart, w, unicode)),
        ]

    def _label(self, text: str, sign: str = "") -> str:
        return f"{f'{sign} {text}'.strip():>{self.gutter - 1}} "

    def _pitches(self) -> list[int]:
        """Rows from high to low."""
        notes, w = self.chart.song.notes, self.window
        # of a fault in many places only those in view ask for a row
        matter = {int(notes.pitch[i]) for i in self.written.intersection(self.shown.tolist())}
        matter |= {b.pitch for b in self.mended if b.start < w.end and b.end > w.start}
        matter |= {round(p) for f in self.foci for _, p in f.curve[-1:]}
        used = {int(p) for p in notes.pitch[self.shown]} | matter
        slides = self.chart.slides
        for row in self._slides_shown():
            ends = {round(float(slides.origin[row])), round(float(slides.target[row]))}
            used |= ends
            matter |= ends if row in self.at_fault else set()
        return pitch_rows(used, matter, steps=not self.labels.drums)

    def _slides_shown(self) -> list[int]:
        if self.focus.part not in self.chart.parts.bass:
            return []
        slides, w = self.chart.slides, self.window
        seen = (slides.part == self.focus.part) & (slides.start < w.end) & (slides.land > w.start)
        return [int(i) for i in np.flatnonzero(seen)]

    def _bar_lines(self) -> Cells:
        """A row in which nothing sounds."""
        cells, sign = Cells(self.window.width), marks.BAR_LINE.drawn(self.look.unicode)
        for column in self.bar_columns:
            cells.put(column, sign, "grid")
        return cells

    def _span(self, start: int, end: int) -> tuple[int, int]:
        """Columns of a note: at least one, so that no hit is lost."""
        first = self.window.column(start)
        # what is seen of it and its edge: a note may be held for hours
        first, stop = max(first, -1), min(self.window.column(end), self.window.width + 1)
        return first, max(first + 1, stop)

    def _draw_note(self, row: int) -> None:
        notes, unicode = self.chart.song.notes, self.look.unicode
        pitch = int(notes.pitch[row])
        if pitch not in self.lines:
            return
        written = row in self.written and not self._bent(row)
        body = marks.BODY_WRITTEN if written else marks.BODY
        first, stop = self._span(int(notes.start[row]), int(notes.end[row]))
        cells = self.lines[pitch]
        onset = marks.HITS if self.hits[pitch, first] > 1 else marks.ONSET
        onset = marks.ONSET_WRITTEN if written else onset
        cells.put(first, onset.drawn(unicode), body.style)
        cells.put(first + 1, body.drawn(unicode) * (stop - first - 1), body.style)

    def _bent(self, note: int) -> bool:
        """Whether the matter is where this note's bend goes, not the note itself."""
        slides = self.chart.slides
        return any(slides.how[s] == "bend" and int(slides.note[s]) == note for s in self.at_fault)

    def _draw_slides(self) -> None:
        """Bends leave their note's row; overlaps and portamento are joined to where they land."""
        slides = self.chart.slides if self.focus.part in self.chart.parts.bass else None
        if slides is None:
            return
        for row in self._slides_shown():
            start, land = int(slides.start[row]), int(slides.land[row])
            origin, target = float(slides.origin[row]), float(slides.target[row])
            at_fault = row in self.at_fault
            style = marks.AS_WRITTEN.style if at_fault else marks.RISE.style
            if slides.how[row] == "bend":
                self._leave_row(row, land, round(target), at_fault)
            else:  # until it lands, the later note is not yet heard where it is written
                first, stop = self.window.column(start), self.window.column(land)
                if round(target) in self.lines:
                    self.lines[round(target)].put(first, " " * (stop - first), "plain")
            self._draw_path(((start, origin), (land, target)), style)

    def _leave_row(self, row: int, land: int, target: int, at_fault: bool) -> None:
        """After a bend has landed the note sounds in the row of its target."""
        notes, slides = self.chart.song.notes, self.chart.slides
        note = int(slides.note[row])
        pitch = int(notes.pitch[note])
        later = slides.start[(slides.note == note) & (slides.start >= land)]
        until = min([int(notes.end[note]), *(int(t) for t in later)])
        first, stop = self.window.column(int(slides.start[row])), self.window.column(until)
        own = self.lines.get(pitch)
        if own is not None and pitch != target:
            own.put(first + 1, " " * (stop - first - 1), "plain")
        if target in self.lines:
            body = marks.BODY_WRITTEN if at_fault else marks.BODY
            begin = self.window.column(land)
            length = max(1, stop - begin)
            self.lines[target].put(begin, body.drawn(self.look.unicode) * length, body.style)

    def _draw_path(self, points: tuple[tuple[int, float], ...], style: str) -> None:
        """A slope through the rows between the points, its last cell in the row it lands in."""
        for (start, low), (land, high) in pairwise(points):
            if round(low) == round(high):
                continue
            slope = (marks.RISE if high > low else marks.FALL).drawn(self.look.unicode)
            for pitch in self.pitches:
                if not min(low, high) < pitch <= max(low, high) and pitch != round(high):
                    continue
                if pitch == round(low):
                    continue
                tick = start + (land - start) * (pitch - low) / (high - low)
                column = self.window.column(round(tick))
                landing = pitch == round(high)
                if landing or self.lines[pitch].empty(column) or column in self.bar_columns:
                    cell_style = style if landing else marks.RISE.style
                    self.lines[pitch].put(column, slope, cell_style)

    def _draw_mended(self) -> None:
        """Lay the mended notes over the written ones: what both hold stays as it is."""
        notes, unicode = self.chart.song.notes, self.look.unicode
        held: set[tuple[int, int]] = set()  # (pitch, column) of the written notes
        begun: set[tuple[int, int]] = set()
        for row in self.written:
            pitch = int(notes.pitch[row])
            first, stop = self._span(int(notes.start[row]), int(notes.end[row]))
            begun.add((pitch, first))
            held |= {(pitch, column) for column in range(first, stop)}
        for bar in self.mended:
            if bar.pitch not in self.lines:
                continue
            first, stop = self._span(bar.start, bar.end)
            cells = self.lines[bar.pitch]
            for column in range(first, stop):
                at = (bar.pitch, column)
                if column == first:
                    mark = marks.ONSET if at in begun else marks.ONSET_MENDED
                else:
                    mark = marks.BODY if at in held else marks.BODY_MENDED
                free = column in self.bar_columns or cells.empty(column)
                if (at in held and (at not in begun or column == first)) or free:
                    cells.put(column, mark.drawn(unicode), mark.style)
        for focus in self.foci:
            self._draw_curve(focus, marks.BODY_MENDED.drawn(unicode))
        self._mark_unseen()

    def _mark_unseen(self) -> None:
        """Mark the onsets of notes at fault whose change is too small to be seen from here."""
        notes = self.chart.song.notes
        styles = (marks.AS_WRITTEN.style, marks.AS_MENDED.style)
        for row in self.written:
            cells = self.lines.get(int(notes.pitch[row]))
            if cells is None or self._bent(row):
                continue
            first, stop = self._span(int(notes.start[row]), int(notes.end[row]))
            if not any(cells.has(style, first - 1, stop + 1) for style in styles):
                cells.put(first, marks.ONSET_WRITTEN.drawn(self.look.unicode), styles[0])

    def _draw_curve(self, focus: Focus, body: str) -> None:
        curve = focus.curve
        if not curve:
            return
        self._draw_path((curve[0], curve[-1]), marks.AS_MENDED.style)
        pitch = round(curve[-1][1])
        if pitch in self.lines and focus.slide is not None:
            note = int(self.chart.slides.note[focus.slide])
            first = self.window.column(curve[-1][0])
            stop = self.window.column(int(self.chart.song.notes.end[note]))
            for column in range(first, max(first + 1, stop)):
                if self.lines[pitch].empty(column) or column in self.bar_columns:
                    self.lines[pitch].put(column, body, marks.AS_MENDED.style)

    def _kicks(self) -> list[Row]:
        """The kicks in view, where the matter is how far a note is from one."""
        cells, w = Cells(self.window.width), self.window
        for tick in self.focus.kicks:
            if w.start <= tick < w.end:
                cells.put(w.column(tick), marks.ONSET.drawn(self.look.unicode), marks.ONSET.style)
        return [labelled(self._label("kick"), "plain", cells)] if self.focus.kicks else []

    def _loudness(self) -> list[Row]:
        """Velocities before and after, where the fix is about them."""
        hits = tuple(hit for focus in self.foci for hit in focus.loudness)
        return [
            labelled(self._label("velocity", mark.drawn(self.look.unicode)), mark.style, cells)
            for mark, cells in velocity_rows(hits, self.window, self.look.unicode)
            if self.focus.loudness
        ]
