"""What is true of a bass part that lies an eighth, a quarter, half a bar or a bar off the rest?"""

from __future__ import annotations

from basslint.hear.bassline.displacement import STEPS
from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words

_SIZES = {"bar": "a bar", "half bar": "half a bar", "quarter": "a quarter", "eighth": "an eighth"}


@reading("displacement", unit="quarters")
def displaced_by(chart: Chart) -> Column:
    """How far the part lies behind its place; negative: before it."""
    return chart.displacements.ticks / chart.song.division


@reading("displacement", unit="share", source="fitted, see hear/bassline/displacement.py")
def displaced_chance(chart: Chart) -> Column:
    """How sure that place is, of the nine within a bar that are tried."""
    return chart.displacements.certainty


@reading("displacement", unit="text")
def displaced_words(chart: Chart) -> Column:
    """How far the part lies off and which way, in words, such as “a quarter early”."""
    found = chart.displacements
    return words(
        [
            f"{_SIZES[STEPS[step]]} {'late' if by > 0 else 'early'}"
            for step, by in zip(found.step.tolist(), found.ticks.tolist(), strict=True)
        ]
    )


@reading("displacement", unit="text")
def displaced_part(chart: Chart) -> Column:
    """The name of its part."""
    return words([chart.song.parts[p].name for p in chart.displacements.part.tolist()])
