"""Until when is a note meant to sound that the file never ends?

It drones on, and every bar after it would be judged against the drone: one fault, many findings.
So it is heard as it must have been meant, let go at the next note of its part at the latest. The
song itself keeps what the file says. Common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.song.arrangement import NEVER, Notes
from basslint.util.columns import order_of, rows_where
from basslint.util.records import replace

_TOGETHER = 16  # notes less than a quarter / 16 apart are one chord, strummed or played by hand


def end_stuck_notes(notes: Notes, division: int) -> Notes:
    """The notes; one that is never ended ends at the next one of its part.

    ``notes`` are whole parts in order of time, ``division`` ticks per quarter. What is struck
    together with a note does not end it, what strikes its own key does.
    """
    left = rows_where(notes.off_row == NEVER)
    if not len(left):
        return notes
    end = notes.end.copy()
    end[left] = np.minimum(end[left], _next_start(notes, left, max(division // _TOGETHER, 1)))
    return replace(notes, end=end)


def _next_start(notes: Notes, wanted: NDArray[np.intp], least: int) -> NDArray[np.int64]:
    """Start of the first note of the same part that starts at least so many ticks after each.

    The end of the last note of all where there is none.
    """
    last = int(notes.end.max())
    span = last + least + 1
    order = order_of(notes.part)
    at = notes.part.take(order) * np.int64(span) + notes.start.take(order)  # part by part, rising
    part = notes.part[wanted].astype(np.int64)
    place = at.searchsorted(part * span + notes.start[wanted] + least)
    after = np.concatenate((at, [-1]))[place]
    return np.where(after // span == part, after % span, last)
