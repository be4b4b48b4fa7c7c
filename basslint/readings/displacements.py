"""What is true of a bass part that lies an eighth, a quarter or a bar off the rest as a whole?"""

from __future__ import annotations

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words

_SIZES = {0.5: "an eighth", 1.0: "a quarter"}  # quarters; what is longer is a bar


@reading("displacement", unit="quarters")
def displaced_by(chart: Chart) -> Column:
    """How far the part lies behind its place; negative: before it."""
    return chart.displacements.ticks / chart.song.division


@reading("displacement", unit="share", source="fitted, see hear/bassline/displacement.py")
def displaced_chance(chart: Chart) -> Column:
    """How sure that place is, of the seven within a bar that are tried."""
    return chart.displacements.certainty


@reading("displacement", unit="text")
def displaced_words(chart: Chart) -> Column:
    """How far the part lies off and which way, in words, such as “a quarter early”."""
    return words(
        [
            f"{_SIZES.get(abs(by), 'a bar')} {'late' if by > 0 else 'early'}"
            for by in displaced_by(chart).tolist()
        ]
    )


@reading("displacement", unit="text")
def displaced_part(chart: Chart) -> Column:
    """The name of its part."""
    return words([chart.song.parts[p].name for p in chart.displacements.part.tolist()])
