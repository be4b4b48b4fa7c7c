"""Is a bass note one of the two that a two-note line is made of?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.cover import chord_rows
from basslint.hear.roots import Roots
from basslint.song import Notes, Song

if TYPE_CHECKING:
    from basslint.hear.pattern import Pattern


def two_note_line(song: Song, bass: Notes, roots: Roots, pattern: Pattern) -> NDArray[np.bool_]:
    """Whether each note is one of the two that a two-note line is made of, [m]; no elsewhere."""
    row = chord_rows(bass, roots, song.division)
    if not len(roots) or not len(bass):
        return np.zeros(len(bass), dtype=bool)
    safe = np.maximum(row, 0)
    told = (row >= 0) & (roots.root[safe] >= 0)
    above = (bass.pitch.astype(np.int64) - roots.root[safe]) % 12
    stretch = pattern.row_at(song.grid.bar_of(bass.start))
    return of_two(bass, told, above, stretch, np.array([*pattern.kind, ""])[stretch])


def of_two(
    bass: Notes,
    told: NDArray[np.bool_],
    above: NDArray[np.int64],
    stretch: NDArray[np.int64],
    kind: NDArray[np.str_],
) -> NDArray[np.bool_]:
    """Whether each note is one of the two that its two-note line is made of.

    Either two pitch classes all through, or under each chord the root and the same interval. What
    is struck once in a stretch is no second note of its line: it may be a slip.
    """
    inside: NDArray[np.bool_] = told & (kind == "two-note")
    if not inside.any():
        return inside
    weight = np.maximum(bass.end - bass.start, 1).astype(np.float64)
    result = np.zeros(len(bass), dtype=bool)
    size = int(stretch.max()) + 1
    for column, wanted in ((bass.pitch % 12, 2), (above, 2)):
        key = stretch[inside] * 12 + column[inside]
        held = np.bincount(key, weights=weight[inside], minlength=size * 12).reshape(size, 12)
        order = np.argsort(-held, axis=1)[:, :wanted]
        both = np.take_along_axis(held, order, axis=1).sum(axis=1)
        carries = both >= 0.85 * np.maximum(held.sum(axis=1), 1.0)
        again = np.bincount(key, minlength=size * 12)[key] > 1
        of_two = (order[stretch[inside]] == column[inside][:, None]).any(axis=1)
        result[inside] |= of_two & again & carries[stretch[inside]]
    return result
