"""What is true of a bass part that lies an octave too high as a whole?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words
from basslint.theory import tuning

_PER_CENT = 100.0


@reading("high-part", unit="text")
def high_part(chart: Chart) -> Column:
    """The name of the part."""
    return words([chart.song.parts[p].name for p in chart.high_parts.part.tolist()])


@reading("high-part", unit="Hz", source=tuning.SOURCE)
def lowest_hz_of_part(chart: Chart) -> Column:
    """The frequency of its lowest note, one in twenty left aside."""
    return tuning.frequency(chart.high_parts.lowest)


@reading("high-part", unit="text", source="scientific pitch notation")
def lowest_note_of_part(chart: Chart) -> Column:
    """The name of its lowest note, one in twenty left aside, such as C3."""
    return words([chart.note_name(pitch, 0) for pitch in chart.high_parts.lowest.tolist()])


@reading("high-part", unit="%")
def crossed_percent(chart: Chart) -> Column:
    """How much of its time other parts sound at its height or below it."""
    return np.round(_PER_CENT * chart.high_parts.crossed)


@reading("high-part", unit="share", source="fitted, see hear/bassline/register.py")
def high_chance(chart: Chart) -> Column:
    """How likely it lies an octave too high as a whole, under even odds, 0 to 1."""
    return chart.high_parts.chance
