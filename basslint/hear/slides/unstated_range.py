"""Which note is the first that is bent while the bend range has to be assumed?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.song.arrangement import Notes, Song
from basslint.song.bends import hear_bends
from basslint.util.columns import rows_where
from basslint.util.records import record

_AWAY = 0.05  # semitones off centre: less is the jitter of a pitch wheel at rest


@record(eq=False)
class Unstated:
    """For each of some notes, columns [n].

    ``first`` bool: it is the first of its part that is bent while the bend range has to be assumed;
    ``range`` float64: the range assumed there, in semitones, ``misplaced`` float64: one that the
    file writes before it selects the parameter; both NaN elsewhere.
    """

    first: NDArray[np.bool_]
    range: NDArray[np.float64]
    misplaced: NDArray[np.float64]


def hear_unstated(song: Song, bass: Notes, bend_range: float | None) -> Unstated:
    """Find the first note of each part of ``bass`` that is bent by an assumed range.

    ``bass`` in order of time. Every bend counts, however small: five semitones of a range of ±24
    are less than half a one of ±2. A note that is struck while the bend is off centre is bent, too.
    Source of what is assumed: General MIDI 1, RP-053 (MPE).
    """
    none = np.full(len(bass), np.nan)
    result = Unstated(np.zeros(len(bass), dtype=bool), none, none.copy())
    parts = tuple(bass.parts)
    for part, curve in hear_bends(song, parts, bend_range).items():
        rows = rows_where(bass.part == part)
        start = bass.start[rows]
        # events that leave the bend off centre: the last one before each note, and those
        # that come while it sounds
        away = np.concatenate(([False], ~curve.stated & (np.abs(curve.semitones) >= _AWAY)))
        last = curve.tick.searchsorted(start, side="right")
        until = curve.tick.searchsorted(bass.end[rows], side="left")
        total = away.cumsum()
        bent = rows_where(away[last] | (total[np.maximum(until, last)] > total[last]))
        if len(bent):
            row = int(rows[bent[0]])
            event = int(last[bent[0]]) - 1
            if not away[event + 1]:
                event = int(np.argmax(total > total[event + 1])) - 1
            result.first[row] = True
            result.range[row] = curve.range[event]
            result.misplaced[row] = curve.misplaced
    return result
