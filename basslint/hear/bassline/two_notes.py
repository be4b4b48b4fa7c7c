"""Is a bass note one of the two that a two-note line is made of?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.song.arrangement import Notes, Song
from basslint.util.columns import in_columns, rows_where

if TYPE_CHECKING:
    from basslint.hear.bassline.pattern import Pattern

_CARRIES = 0.85  # share of its time that a line must spend on its two notes: the rest are ornaments


def of_one_pair(bass: Notes, pattern: Pattern, song: Song) -> NDArray[np.bool_]:
    """Whether each note is of the two pitch classes that its two-note line has all through, [m].

    Such a line keeps its two notes whatever the chord; no for a line that takes a second note at
    the same interval to each root, and outside two-note lines.
    """
    stretch = pattern.row_of(bass.start, song.grid)
    kind = np.array([*pattern.kind, ""])[stretch]
    return _carried(bass, kind == "two-note", bass.pitch.astype(np.int64) % 12, stretch)


def of_two(
    bass: Notes,
    known: NDArray[np.bool_],
    above: NDArray[np.int64],
    stretch: NDArray[np.int64],
    kind: NDArray[np.str_],
) -> NDArray[np.bool_]:
    """Whether each note is one of the two that its two-note line is made of.

    Either two pitch classes all through, or under each chord the root and the same interval. What
    is struck once in a stretch is no second note of its line: it may be a slip.
    """
    inside: NDArray[np.bool_] = known & (kind == "two-note")
    classes = bass.pitch.astype(np.int64) % 12
    return _carried(bass, inside, classes, stretch) | _carried(bass, inside, above, stretch)


def _carried(
    bass: Notes, inside: NDArray[np.bool_], column: NDArray[np.int64], stretch: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Notes ``inside`` whose value (0–11) is one of two that carry their stretch, heard twice."""
    rows = rows_where(inside)
    result = np.zeros(len(bass), dtype=bool)
    if not len(rows):
        return result
    value, place = column[rows], stretch[rows]
    weight = np.maximum(bass.end[rows] - bass.start[rows], 1).astype(np.float64)
    size = int(place.max()) + 1
    key = place * 12 + value
    held = np.bincount(key, weights=weight, minlength=size * 12).reshape(size, 12)
    order = (-held).argsort(axis=1)[:, :2]
    both = in_columns(held, order).sum(axis=1)
    carries = both >= _CARRIES * np.maximum(held.sum(axis=1), 1.0)
    again = np.bincount(key, minlength=size * 12)[key] > 1
    of_two = (order[place] == value[:, None]).any(axis=1)
    result[rows] = of_two & again & carries[place]
    return result
