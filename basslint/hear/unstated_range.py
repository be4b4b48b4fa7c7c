"""Which note is the first that a wheel bends whose range nobody has stated?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bends import hear_steps, hear_wheels
from basslint.song import Notes, Song

_AWAY = 0.05  # semitones off centre: less is the jitter of a wheel at rest


@dataclass(frozen=True, slots=True, eq=False)
class Unstated:
    """For each of some notes, columns [n].

    ``first`` bool: it is the first of its part that is bent while the range of the wheel has to be
    assumed; ``range`` float64: the range assumed there, in semitones, ``misplaced`` float64: one
    that the file writes before it selects the parameter; both NaN elsewhere.
    """

    first: NDArray[np.bool_]
    range: NDArray[np.float64]
    misplaced: NDArray[np.float64]


def hear_unstated(song: Song, bass: Notes, bend_range: float | None) -> Unstated:
    """Find such notes in each part of ``bass``, notes in order of time.

    Every move counts, however small: five semitones of a wheel of ±24 are less than half a one of
    ±2. Source of what is assumed: General MIDI 1, RP-053 (MPE).
    """
    none = np.full(len(bass), np.nan)
    result = Unstated(np.zeros(len(bass), dtype=bool), none, none.copy())
    parts = tuple(np.unique(bass.part).tolist())
    for part, wheel in hear_wheels(song, parts, bend_range).items():
        steps = hear_steps(wheel, song.tempo)
        away = ~wheel.stated[steps.at] & (np.abs(steps.after) >= _AWAY)
        rows = np.flatnonzero(bass.part == part)
        start, end = bass.start[rows], np.maximum.accumulate(bass.end[rows])
        at = np.flatnonzero(away)
        note = np.searchsorted(start, steps.tick[at], side="right") - 1
        sounds = np.flatnonzero((note >= 0) & (steps.tick[at] < end[np.maximum(note, 0)]))
        if len(sounds):
            row = int(rows[note[sounds[0]]])
            result.first[row] = True
            result.range[row] = wheel.range[steps.at[at[sounds[0]]]]
            result.misplaced[row] = wheel.misplaced
    return result
