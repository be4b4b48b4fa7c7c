"""Which chord does each note belong to? The one that covers its main part, not just its onset.

A bass that is some milliseconds early, that anticipates a change, or that is held over one, would
be heard under the wrong chord by its onset alone.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.sources import Roots
from basslint.song.arrangement import Notes
from basslint.util.columns import rows_where, turns, within

_ROWS_LOOKED_AT = 64  # stretches per note: bounds time; a note over more of them is a drone
_EARLY = 0.25  # quarters: a sixteenth
_PUSH = 0.5  # quarters: the longest anticipation, an eighth (common practice, no source)


def longest_overlap(
    start: NDArray[np.int64],
    end: NDArray[np.int64],
    row_start: NDArray[np.int64],
    row_end: NDArray[np.int64],
) -> NDArray[np.intp]:
    """Row of the stretch that covers most of each span, [n]; −1 where none touches it.

    Spans are ``start`` to ``end`` in ticks, at least one tick long; stretches are in order and do
    not overlap. The earlier of two equal ones is taken.
    """
    if not len(row_start) or not len(start):
        return np.full(len(start), -1, dtype=np.intp)
    end = np.maximum(end, start + 1)
    first = row_end.searchsorted(start, side="right")
    count = within(row_start.searchsorted(end, side="left") - first, 0, _ROWS_LOOKED_AT)
    note = np.arange(len(start)).repeat(count)
    row = np.arange(len(note)) + (first - (count.cumsum() - count))[note]
    shared = np.minimum(end[note], row_end[row]) - np.maximum(start[note], row_start[row])
    result = np.full(len(start), -1, dtype=np.intp)
    if len(note):
        most = np.maximum.reduceat(shared, rows_where(turns(note)))
        best = rows_where(shared == most.repeat(count[count > 0]))[::-1]
        result[note[best]] = row[best]  # from the last on: of equal ones, the first is written last
    return result


def chord_rows(notes: Notes, roots: Roots, division: int) -> NDArray[np.intp]:
    """Row of ``roots`` that each note belongs to, [n]; −1 where no harmony sounds.

    The chord that covers most of the note; but a note that begins at most an eighth before a
    change and is the root of what follows anticipates that chord, and one that begins within the
    last sixteenth of a chord, most of it in the silence after, was struck a little early there.
    Where a chord is struck off the beat, its change is perceived on the beat (`Roots.since`): from
    there on its tones belong to it.
    """
    row = longest_overlap(notes.start, notes.end, roots.start, roots.end)
    if not len(roots.start):
        return row
    under = roots.end[row] - notes.start
    row[(under <= _EARLY * division) & (under < (notes.end - notes.start) / 2)] = -1
    after = roots.start.searchsorted(notes.start, side="right")
    next_row = np.minimum(after, len(roots.start) - 1)
    above = (notes.pitch - roots.root[next_row]) % 12
    ahead = roots.start[next_row] - notes.start
    known = (after < len(roots.start)) & (roots.root[next_row] >= 0)
    anticipates = known & (ahead <= _PUSH * division) & (above == 0)
    off_beat = known & (roots.since[next_row] < roots.start[next_row])
    off_beat &= notes.start >= roots.since[next_row] - _EARLY * division
    begins = off_beat & roots.tones[next_row, above]
    return np.where(anticipates | begins, next_row, row)


def sounding_clock(
    start: NDArray[np.int64], end: NDArray[np.int64]
) -> Callable[[NDArray[np.int64]], NDArray[np.float64]]:
    """Cumulative sounding time: a function from a tick to the ticks sounded up to it.

    ``start`` must rise. The difference of two of its times is how long the spans, overlaps
    counted once, sound between them.
    """
    reach = np.maximum.accumulate(end)
    apart = rows_where(start[1:] > reach[:-1])
    edges, times = np.empty((2, 2 * len(apart) + 2))  # whole numbers, as `interp` reads them
    # beginning and end of each stretch, by turns
    edges[0], edges[-1] = start[0], reach[-1]
    edges[1:-1:2], edges[2:-1:2] = reach[apart], start[apart + 1]
    times[1::2] = (edges[1::2] - edges[::2]).cumsum()
    times[0], times[2::2] = 0, times[1:-1:2]
    return lambda tick: np.interp(tick, edges, times, left=0.0)
