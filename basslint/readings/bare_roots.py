"""Where chords are stated and nobody plays them, which tones do they hold over a bass note?

Of a chord stated in full its own; of a root alone those of usual chords in the scale in force.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.bare import usual_tones
from basslint.hear.harmony.sources import STATED
from basslint.hear.memo import once_per_chart
from basslint.util.columns import found_in

Floats = NDArray[np.float64]

_THIRDS = (3, 4)  # semitones above the root


@once_per_chart
def some_bare(chart: Chart) -> bool:
    """Is of any chord the root alone known?"""
    return bool(chart.roots.bare.any())


def chance_of_tone(chart: Chart, note: NDArray[np.int64], row: NDArray[np.intp]) -> Floats:
    """Chance that each note is a tone of its chord of which the root alone is known, [n].

    Chords are as usual, and made of the scale in force as far as that is known; but 1 for either
    third, since nobody said which of the two is meant. ``note``: rows of ``chart.notes``; ``row``:
    rows of ``chart.roots``, −1 for none. 0 where the chord is known by more than its root, where
    parts play it beside a bass note, and for the root itself.
    """
    result = np.zeros(len(note))
    open_chord = (row >= 0) & np.append(chart.roots.bare, False)[row]
    if not np.count_nonzero(open_chord):
        return result
    played = np.zeros(len(chart.notes), dtype=bool)
    played[chart.bass_rows] = chart.accompaniment.played
    asked = (open_chord & ~played[note]).nonzero()[0]
    if not len(asked):
        return result
    root = chart.roots.root[row[asked]].astype(np.int64)
    above = (chart.notes.pitch[note[asked]] - root) % 12
    fit = chart.scale_fit_at(chart.notes.start[note[asked]])
    chance = usual_tones(root, fit)[np.arange(len(asked)), above]
    chance[found_in(above, _THIRDS)] = 1.0
    result[asked] = np.where(above == 0, 0.0, chance)
    return result


def stated_tones(chart: Chart, least: float) -> NDArray[np.bool_]:
    """Pitch classes that the stated chord of each bass note holds, [m, 12].

    Over a root alone those that are as likely as ``least``. None where parts play a chord in the
    note's bar: they say what sounds.
    """
    row, roots = chart.bass_chords, chart.roots
    held = np.zeros((len(row), 12), dtype=bool)
    if not chart.facts.chords:  # as of most songs
        return held
    told = (row >= 0) & ~chart.accompaniment.played
    told &= np.append((roots.source == STATED) & (roots.root >= 0), False)[row]
    asked = told.nonzero()[0]
    if not len(asked):
        return held
    chord = row[asked]
    usual = usual_tones(roots.root[chord], chart.scale_fit_at(chart.bass.start[asked]))
    above = np.where(roots.bare[chord][:, None], usual >= least, roots.tones[chord])
    of_root = (np.arange(12) - roots.root[chord].astype(np.int64)[:, None]) % 12
    held[asked] = np.take_along_axis(above, of_root, axis=1)
    return held
