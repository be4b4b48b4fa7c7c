"""Do chords sound, held or broken, or a tune alone, which says far less about them?

Chord tones sound together, or follow each other by leaps. A tune moves by step: half of its notes
are no tones of the chord under it, and what fits them best is often another chord. On the melodies
of 419 songs (tests/bench) the likeliest root is right for a third of the time, while their notes
taken for chords would make it sure for half of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.segments import Segments
from basslint.song import Notes

Floats = NDArray[np.float64]

_ALONE = 0.35  # weight of a tune's evidence: makes the certainty of its roots true
_TOGETHER = 0.3  # share of the time with two pitch classes or more from which chords sound
_STEPWISE, _BROKEN = 0.5, 0.75  # share of leaps up to which a line is a tune, and from which chords
_LEAP = 3  # semitones: more than a step
_AROUND = 2  # bars on either side that have a say


def chord_weight(notes: Notes, segments: Segments) -> Floats:
    """Weight of each segment's evidence, [n], `_ALONE` (a tune) to 1 (chords), a bar at a time.

    ``notes``: those that ``segments`` were cut from, in order of time.
    """
    bars = int(segments.bar[-1]) + 1
    sounding = segments.sounding.sum(axis=1)
    time = _near(np.bincount(segments.bar, np.minimum(sounding, 1.0), bars))
    shared = _near(np.bincount(segments.bar, np.clip(sounding - 1.0, 0.0, 1.0), bars))
    first = segments.edges[np.searchsorted(segments.bar, np.arange(bars))]
    bar = np.clip(np.searchsorted(first, notes.start[1:], side="right") - 1, 0, None)
    leaps = np.abs(np.diff(notes.pitch.astype(np.int64))) >= _LEAP
    moves = _near(np.bincount(bar, minlength=bars))
    leapt = _near(np.bincount(bar, leaps, bars))
    together = shared / np.maximum(time, 1e-9) / _TOGETHER
    broken = (leapt / np.maximum(moves, 1.0) - _STEPWISE) / (_BROKEN - _STEPWISE)
    chords = np.clip(np.maximum(together, broken), 0.0, 1.0)
    return np.asarray((_ALONE + (1.0 - _ALONE) * chords)[segments.bar])


def _near(per_bar: NDArray[np.generic]) -> Floats:
    """Sum over each bar and those around it."""
    total = np.concatenate(([0.0], np.cumsum(per_bar.astype(np.float64))))
    at = np.arange(len(per_bar))
    high = np.minimum(at + _AROUND + 1, len(per_bar))
    return np.asarray(total[high] - total[np.maximum(at - _AROUND, 0)])
