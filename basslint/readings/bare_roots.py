"""Where a root alone is stated, how likely is a bass note another tone of its chord?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.bare import CHORD_SHARE
from basslint.theory.chords import IS_TONE

Floats = NDArray[np.float64]

_FOREIGN = 0.02  # chance that a chord takes a tone from outside the scale; by judgement

_LOG_SHARE = np.log(CHORD_SHARE)


def chance_of_tone(chart: Chart, note: NDArray[np.int64], row: NDArray[np.intp]) -> Floats:
    """Chance that each note is a tone of its chord of which the root alone is known, [n].

    Chords are as usual, and made of the scale in force as far as that is known. ``note``: rows of
    ``chart.notes``; ``row``: rows of ``chart.roots``, −1 for none. 0 where the chord is known by
    more than its root, where parts play it beside a bass note, and for the root itself.
    """
    result = np.zeros(len(note))
    open_chord = (row >= 0) & np.append(chart.roots.bare, False)[row]
    if not open_chord.any():
        return result
    played = np.zeros(len(chart.notes), dtype=bool)
    played[chart.bass_rows] = chart.accompaniment.played
    asked = (open_chord & ~played[note]).nonzero()[0]
    if not len(asked):
        return result
    root = chart.roots.root[row[asked]].astype(np.int64)
    above = (chart.notes.pitch[note[asked]] - root) % 12
    key = chart.key_at(chart.notes.start[note[asked]])
    fit = np.ones((len(asked), 12))
    fit[key >= 0] = chart.keys.fit[key[key >= 0]]
    of_root = np.take_along_axis(fit, (root[:, None] + np.arange(12)) % 12, axis=1)
    weight = np.log(np.maximum(of_root, _FOREIGN)) @ IS_TONE.T + _LOG_SHARE
    chance = np.exp(weight - weight.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    result[asked] = np.where(above == 0, 0.0, (chance * IS_TONE.T[above]).sum(axis=1))
    return result
