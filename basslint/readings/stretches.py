"""What is true of a stretch of the bass that lies semitones off the other parts as a whole?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words

_STEPS = (
    "",
    "a semitone",
    "a whole tone",
    "a minor third",
    "a major third",
    "a fourth",
    "a tritone",
)


@reading("stretch", unit="semitones", source="fitted, see hear/bassline/shift.py")
def shift_semitones(chart: Chart) -> Column:
    """How far it lies above where it fits the other parts; negative: below."""
    return chart.shifts.semitones.astype(np.float64)


@reading("stretch", unit="share", source="fitted, see hear/bassline/shift.py")
def shift_chance(chart: Chart) -> Column:
    """How sure that shift is, of the twelve within a tritone up or down."""
    return chart.shifts.certainty


@reading("stretch", unit="yes or no")
def from_first_to_last(chart: Chart) -> Column:
    """Does the part lie off so from its first note to its last?"""
    return chart.shifts.whole


@reading("stretch", unit="bars")
def stretch_bars(chart: Chart) -> Column:
    """How many bars long it is."""
    grid, shifts = chart.song.grid, chart.shifts
    last = grid.bar_of(np.maximum(shifts.end - 1, shifts.start))
    return np.asarray(last - grid.bar_of(shifts.start) + 1, dtype=np.float64)


@reading("stretch", unit="text", source="handbook of harmony: intervals")
def shift_words(chart: Chart) -> Column:
    """How far it lies off and which way, in words, such as “a semitone above”."""
    return words(
        [
            f"{_STEPS[abs(n)]} {'above' if n > 0 else 'below'}"
            for n in chart.shifts.semitones.tolist()
        ]
    )


@reading("stretch", unit="text")
def shift_back(chart: Chart) -> Column:
    """The way back, in semitones with a sign, such as −1."""
    return words([f"{-n:+d}".replace("-", "−") for n in chart.shifts.semitones.tolist()])


@reading("stretch", unit="text")
def stretch_part(chart: Chart) -> Column:
    """The name of its part."""
    return words([chart.song.parts[p].name for p in chart.shifts.part.tolist()])
