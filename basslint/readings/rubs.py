"""How roughly does a bass note meet what sounds with it?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.against_parts import other_bass_row, rub_row
from basslint.readings.base import Column, reading
from basslint.theory import tuning

_SEVENTH = 10  # semitones: the minor seventh, which makes a dominant of a chord with a flat ninth
_SOUNDS = 0.3  # share of a note for which a tone must sound to belong to the harmony over it


@reading(
    "bass-note", unit="yes or no", source="harmony, common practice: the dominant's flat ninth"
)
def rub_is_ninth(chart: Chart) -> Column:
    """Does it rub with the flat ninth of a seventh chord on it: a semitone up, with its seventh?

    The minor seventh over the note sounds for a third of it in another part.
    """
    pitch, row = chart.bass.pitch.astype(np.int64), rub_row(chart)
    up = (chart.notes.pitch[np.maximum(row, 0)] - pitch) % 12
    seventh = chart.accompaniment.at(_SEVENTH, pitch) >= _SOUNDS
    return np.asarray((row >= 0) & (up == 1) & seventh)


@reading("bass-note", unit="Hz", source="ISO 16: equal temperament, A = 440 Hz")
def other_bass_apart_hz(chart: Chart) -> Column:
    """How many Hz lie between it and the note of the leading bass that sounds against it."""
    row = other_bass_row(chart)
    theirs = tuning.frequency(chart.notes.pitch[np.maximum(row, 0)].astype(np.float64))
    mine = tuning.frequency(chart.bass.pitch.astype(np.float64))
    return np.where(row >= 0, np.round(np.abs(mine - theirs), 1), np.nan)
