"""What is true of a bass part, or of some of it, that lies off its place in time?"""

from __future__ import annotations

import numpy as np

from basslint.hear.bassline.displacement import EXTENTS, FAR
from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words
from basslint.readings.phrase_ends import four_bar_ends

_SIZES = {
    "bar": "a bar",
    "half bar": "half a bar",
    "quarter": "a quarter",
    "eighth": "an eighth",
    "sixteenth": "a sixteenth",
}


@reading("displacement", unit="quarters")
def displaced_by(chart: Chart) -> Column:
    """How far the part lies behind its place; negative: before it."""
    return chart.displacements.ticks / chart.song.division


@reading("displacement", unit="share", source="fitted, see hear/bassline/displacement.py")
def displaced_chance(chart: Chart) -> Column:
    """How sure that place is, of the nine within a bar that are tried."""
    return chart.displacements.certainty


@reading("displacement", unit="yes or no")
def enters_with_four_bars(chart: Chart) -> Column:
    """Does the part begin where four bars begin, as it would not if it were moved back?"""
    found, lines = chart.displacements, four_bar_ends(chart)
    near = chart.song.division // 2
    begins = [
        bool((np.abs(lines - tick) <= near).any()) and not (np.abs(lines - tick + by) <= near).any()
        for tick, by in zip(found.start.tolist(), found.ticks.tolist(), strict=True)
    ]
    return np.array(begins, dtype=bool)


@reading("displacement", unit="text")
def displaced_words(chart: Chart) -> Column:
    """How far the part lies off and which way, in words, such as “a quarter early”."""
    found = chart.displacements
    return words(
        [
            f"{_SIZES[FAR[step]]} {'late' if by > 0 else 'early'}"
            for step, by in zip(found.step.tolist(), found.ticks.tolist(), strict=True)
        ]
    )


@reading("displacement", unit="text")
def displaced_part(chart: Chart) -> Column:
    """The name of its part."""
    return words([chart.song.parts[p].name for p in chart.displacements.part.tolist()])


@reading("displacement", unit="text")
def displaced_extent(chart: Chart) -> Column:
    """How much lies off: “part” as a whole, a “stretch” of its bars, or one “hit”."""
    return words([EXTENTS[extent] for extent in chart.displacements.extent.tolist()])


@reading("displacement", unit="text")
def displaced_bars(chart: Chart) -> Column:
    """From which bar to which it does, as a page has them, such as “9 to 12”."""
    grid, found = chart.song.grid, chart.displacements
    first = grid.bar_of(np.maximum(found.start - found.ticks, 0)) + 1
    last = np.maximum(grid.bar_of(np.maximum(found.end - 1 - found.ticks, 0)) + 1, first)
    return words([f"{a} to {b}" for a, b in zip(first.tolist(), last.tolist(), strict=True)])


@reading("displacement", unit="text")
def displaced_from(chart: Chart) -> Column:
    """The beat on which it would begin in its place, such as 1 or 2.5."""
    grid, found = chart.song.grid, chart.displacements
    return words([f"{beat:g}" for beat in np.round(grid.beat_of(found.start - found.ticks), 2)])


@reading("displacement", unit="text")
def displaced_share(chart: Chart) -> Column:
    """For a hit, in how many of a hundred other bars its part strikes there."""
    return words([f"{share:.0f}" for share in 100.0 * chart.displacements.certainty])
