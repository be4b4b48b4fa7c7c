"""Is the harmony played as chords, held or broken, or as a melody alone?

Chord tones sound together, or follow each other by leaps. A melody moves by step: half of its notes
are no tones of the chord under it, and what fits them best is often another chord. On the melodies
of 419 songs (tests/bench) the likeliest root is right for a third of the time, while their notes
taken for chords would make it sure for half of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.segments import Segments
from basslint.song.arrangement import Notes
from basslint.util.columns import TINY, last_row, rows_where

Floats = NDArray[np.float64]

_ALONE = 0.35  # weight of a melody's evidence: makes the certainty of its roots true
_TOGETHER = 0.3  # share of the time with two pitch classes or more from which chords sound
# share of leaps up to which a line is a melody, and from which on it is broken chords
_STEPWISE, _BROKEN = 0.5, 0.75
_LEAP = 3  # semitones: more than a step
_BARS = 2  # bars on either side that have a say in whether a line moves by step
_EIGHTHS = 2  # segments on either side that have a say in whether chords sound


def chord_weight(notes: Notes, segments: Segments) -> Floats:
    """Weight of each segment's evidence, [n], `_ALONE` (a melody) to 1 (chords).

    ``notes``: those that ``segments`` were cut from, in order of time.
    """
    sounding = np.add.reduce(segments.sounding, axis=1)
    both = np.minimum((sounding, np.maximum(sounding - 1.0, 0.0)), 1.0)
    time, shared = _near(both, _EIGHTHS)
    together = shared / np.maximum(time, TINY) / _TOGETHER
    broken = (_leaps(notes, segments) - _STEPWISE) / (_BROKEN - _STEPWISE)
    chords = np.minimum(np.maximum(np.maximum(together, broken[segments.bar]), 0.0), 1.0)
    return np.asarray(_ALONE + (1.0 - _ALONE) * chords)


def _leaps(notes: Notes, segments: Segments) -> Floats:
    """Share of leaps among the moves from one single note to the next, around each bar."""
    bars = int(segments.bar[-1]) + 1
    first = segments.edges[segments.bar.searchsorted(np.arange(bars))]
    apart = np.ones(len(notes) + 1, dtype=bool)  # before each note, and after the last
    np.greater(notes.start[1:], notes.start[:-1], out=apart[1:-1])
    at = rows_where(apart[:-2] & apart[1:-1] & apart[2:]) + 1
    bar = last_row(first, notes.start[at])
    leapt = np.abs(notes.pitch[at].astype(np.int64) - notes.pitch[at - 1]) >= _LEAP
    both = np.array((np.bincount(bar, leapt, bars), np.bincount(bar, minlength=bars)))
    leaps, moves = _near(both, _BARS)
    return np.asarray(leaps / np.maximum(moves, 1.0))


def _near(columns: NDArray[np.number], reach: int) -> Floats:
    """Sum over each place and those within reach of it, of some columns that lie as rows."""
    count, size = columns.shape
    total = np.zeros((count, size + 2 * reach + 1))  # of all before each place, more at either end
    columns.cumsum(axis=1, out=total[:, reach + 1 : size + reach + 1])
    total[:, size + reach + 1 :] = total[:, size + reach, None]
    return np.asarray(total[:, 2 * reach + 1 :] - total[:, :size])
