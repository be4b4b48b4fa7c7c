"""Does the harmony stand on a line, as on a root?

Over a bass note lie its third and its fifth, or it is doubled; a fourth or a sixth above it says
that the chord stands on another note. Textbook harmony (root position against inversions); the
weights of the intervals are all one, by hand.

A bass with wrong notes is a bass all the same: one that is written a semitone, a tone or a tritone
off as a whole is asked where it would stand. A third, fourth or fifth is not tried, since that
would make a root of any inner voice.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from basslint.song.arrangement import Notes
from basslint.util.columns import rows_where

Floats = NDArray[np.float64]

# semitones above the note: unison, thirds and fifth speak for a root, fourth and sixths against it
_ON_ROOT: Final = (0, 3, 4, 7)
_ON_OTHER: Final = (5, 8, 9)
_WEIGHTS: Final = np.array([(i in _ON_ROOT) - (i in _ON_OTHER) for i in range(12)], dtype=float)
_MOVES: Final = (0, 1, -1, 2, -2, 6)  # semitones that a whole line may be off
_SUPPORT: Final = np.stack([np.roll(_WEIGHTS, move) for move in _MOVES], axis=1)  # [12, moves]
_TONES: Final = np.arange(12)
_ALL_TONES: Final = (1 << 12) - 1  # all pitch classes, one bit each
_SLOTS_PER_QUARTER: Final = 2
_MOST_SLOTS: Final = 1 << 15  # bounds time and memory whatever the file claims


def root_support(
    notes: Notes,
    line: NDArray[np.int64],
    asked: NDArray[np.bool_],
    others: NDArray[np.bool_],
    division: int,
) -> Floats:
    """How much the ``others`` stand on each line that is ``asked`` for, [lines] float64 −1 to 1.

    Over the notes of a line: of the pitch classes that others sound in the eighth in which they
    begin, the share that lies a unison, a third or a fifth above them, less the share a fourth or a
    sixth above; the most of what it comes to with the line where it is or moved as a whole. 0 for
    lines not asked for, and where nothing else sounds. ``line`` int64 [n]; ``asked`` and ``others``
    bool [lines], no line both; ``division`` ticks per quarter. Linear in notes and in eighths.
    """
    result = np.zeros(len(asked))
    rows, own = rows_where(asked), rows_where(asked.take(line))
    rest = rows_where(others.take(line))
    if not len(rows) or not len(rest):
        return result
    last = int(notes.end.max())
    step = max(division // _SLOTS_PER_QUARTER, -(-last // _MOST_SLOTS))
    sounding = _sounding(notes, rest, step, last // step + 2)
    beside = sounding[notes.start[own] // step]
    tone = (notes.pitch.take(own) % 12).astype(np.int64)
    above = (beside >> tone | beside << 12 - tone) & _ALL_TONES  # the intervals up from each note
    # what is alike is weighed once
    kinds = np.bincount((asked.cumsum() - 1).take(line.take(own)) << 12 | above)
    found = rows_where(kinds)
    intervals = (found[:, None] >> _TONES & 1).astype(np.float64)
    count = intervals.sum(axis=1)
    weight = (found >> 12 == np.arange(len(rows))[:, None]) * kinds.take(found) * (count > 0)
    stands = weight @ (intervals @ _SUPPORT / np.maximum(count, 1.0)[:, None])
    result[rows] = stands.max(axis=1) / np.maximum(weight.sum(axis=1), 1.0)
    return result


def _sounding(notes: Notes, rows: NDArray[np.intp], step: int, slots: int) -> NDArray[np.int64]:
    """The pitch classes that some rows sound in each slot of ``step`` ticks, one bit each."""
    first = notes.start[rows] // step
    lane = (notes.pitch.take(rows) % 12).astype(np.int64) * slots
    after = np.maximum((notes.end[rows] + (step - 1)) // step, first + 1)
    edges = np.bincount(lane + first, minlength=12 * slots)
    edges -= np.bincount(lane + after, minlength=12 * slots)
    sounds = (edges.cumsum() > 0).reshape(12, slots)
    return np.asarray(np.bitwise_or.reduce(sounds << _TONES[:, None]))
