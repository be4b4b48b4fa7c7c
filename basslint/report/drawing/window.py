"""Which stretch and which pitches does a strip show, and how many columns does a beat get?"""

from __future__ import annotations

import numpy as np

from basslint.song.timing import BarGrid
from basslint.util.records import record

# Columns a beat may have: divisible by the usual grids. 4 shows sixteenths, which most lines need.
SCALES = (1, 2, 3, 4, 6, 8, 12, 16, 24)
USUAL = 4
MOST_ROWS = 9  # pitch rows of one strip: more would bury the line it shows
WHOLE_SPAN = 7  # semitones up to which the rows between the notes that matter are all drawn


@record(kw_only=True)
class Window:
    """Ticks ``start`` to ``end`` over ``width`` columns, ``per_beat`` columns a beat."""

    start: int
    end: int
    width: int
    per_beat: int
    ticks_per_column: float

    def column(self, tick: int) -> int:
        """The column nearest to a tick (human timing stays on its beat); may lie outside."""
        return round((tick - self.start) / self.ticks_per_column)

    def tick(self, column: float) -> float:
        """The tick at a column."""
        return self.start + column * self.ticks_per_column


def choose(grid: BarGrid, start: int, end: int, finest: int, width: int) -> Window:
    """A window around the stretch ``start`` to ``end`` of at most ``width`` columns.

    ``finest`` is the shortest length (ticks) worth a column of its own. The window begins at a bar
    line, with one bar before where it has room, else at the beat where the stretch begins.
    """
    bar = int(grid.bar_of(start))
    bar_line = int(grid.start[bar])
    unit = 4 * grid.division / int(grid.denominator[bar])
    beat = bar_line + int((start - bar_line) / unit) * unit
    span = max(end - beat, unit)
    fitting = [s for s in SCALES if span * s / unit < width] or [SCALES[0]]
    fine = [s for s in fitting if s >= USUAL and unit / s <= finest]
    # finer than usual only where something would be lost; then as fine as fits
    scale = fine[0] if fine else fitting[-1] if finest < unit / USUAL else min(USUAL, fitting[-1])
    step = unit / scale
    room = width * step
    end = max(end, start + int(step / 2) + 1)  # a hair before a bar line it is drawn on that line
    first = bar
    if end - bar_line > room:  # not even the stretch fits with its whole bar: begin at the beat
        begin = int(beat)
    else:
        close = int(grid.start[int(grid.bar_of(max(end - 1, start))) + 1])
        while first > 0 and close - int(grid.start[first - 1]) <= room:
            song_ends_in_view = int(grid.start[-1]) - int(grid.start[first]) < room
            if first != bar and not song_ends_in_view:
                break
            first -= 1
        begin = int(grid.start[first])
    last = begin + room
    # end at a bar line where one is in reach behind the stretch
    line = int(grid.start[int(np.searchsorted(grid.start, last + step / 2, side="right")) - 1])
    stop = line if line > begin and line >= end else int(min(last, int(grid.start[-1])))
    return Window(
        start=begin,
        end=stop,
        width=max(1, round((stop - begin) / step)),
        per_beat=scale,
        ticks_per_column=step,
    )


def pitch_rows(used: set[int], matter: set[int], steps: bool) -> list[int]:
    """Pitches from high to low: those in use, the nearest to what matters where they are many.

    ``steps``: those between the ones that matter too, so that the distance can be counted.
    """
    if steps and matter and max(matter) - min(matter) <= WHOLE_SPAN:
        used = used | set(range(min(matter), max(matter)))
    middle = sum(matter) / len(matter) if matter else sum(used) / max(len(used), 1)
    near = sorted(used, key=lambda p: (p not in matter, abs(p - middle), p))
    return sorted(near[:MOST_ROWS], reverse=True)
