"""Where two sources speak of the same time, do they name the same chord?

A transcription of a sample is close and never fully right, so a difference between what is stated
and what is heard is worth a look; which of the two is right, only the ear can say.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import Roots
from basslint.util.records import record

_SHORTEST = 0.9  # quarters: differences of less than a beat are ragged edges of one change


@record(eq=False)
class Witnesses:
    """Stretches in which two sources name a root, in order; columns [w].

    ``start``, ``end`` int64 ticks; ``first``, ``second`` intp: rows of the `Roots` that win and of
    those that lie under them; ``apart`` int64 0–6: semitones between the two roots, the shorter way
    round. ``differ`` bool: the roots differ, and so do the notes of the chords: A minor 7 and C 6
    are two names of one chord.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    apart: NDArray[np.int64]
    differ: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.start)


def compare(winning: Roots, under: Roots, division: int) -> Witnesses:
    """Set the stretches of two sources beside each other where both are sure of a root.

    ``division``: ticks per quarter. Linear in stretches.
    """
    if not len(winning) or not len(under):  # one witness, as in most songs
        rows, ticks = np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.int64)
        return Witnesses(ticks, ticks, rows, rows, ticks, np.zeros(0, dtype=bool))
    begin = under.end.searchsorted(winning.start, side="right")
    count = np.maximum(under.start.searchsorted(winning.end, side="left") - begin, 0)
    first = np.repeat(np.arange(len(winning)), count)
    second = np.arange(len(first)) - np.repeat(count.cumsum() - count, count)
    second = second + np.repeat(begin, count)
    start = np.maximum(winning.start[first], under.start[second])
    end = np.minimum(winning.end[first], under.end[second])
    both = (winning.root[first] >= 0) & (under.root[second] >= 0)
    both &= (winning.certainty[first] >= CERTAIN) & (under.certainty[second] >= CERTAIN)
    both &= end - start >= _SHORTEST * division
    first, second, start, end = first[both], second[both], start[both], end[both]
    above = (under.root[second].astype(np.int64) - winning.root[first]) % 12
    tones = [_pitch_classes(roots, rows) for roots, rows in ((winning, first), (under, second))]
    named = ~winning.bare[first] & (tones[1] & ~tones[0]).any(axis=1)
    differ = (above != 0) & (named | winning.bare[first])
    return Witnesses(start, end, first, second, np.minimum(above, 12 - above), differ)


def _pitch_classes(roots: Roots, rows: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which pitch classes the chords of some rows hold, [r, 12]."""
    above = (np.arange(12) - roots.root[rows].astype(np.int64)[:, None]) % 12
    return np.take_along_axis(roots.tones[rows], above, axis=1)
