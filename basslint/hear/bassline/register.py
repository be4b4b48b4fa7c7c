"""Does a bass part lie an octave too high as a whole?

The notes are right wherever their octave, and many basses climb; so register tells little, and only
what hardly any finished song does is told: the lowest of its bass parts never comes below A2
(110 Hz), or hardly ever below C3; or hardly ever below A2 while the other parts' chords sound at
its height or below it for half of its time. Common practice, no source; the limits were set by hand
on 407 real songs, where the first tells 2 as written and a quarter of all basses put an octave up,
the second 2 more.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.cover import sounding_clock
from basslint.song.events import Notes
from basslint.util.columns import distinct
from basslint.util.records import record

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FEWEST = 12  # notes of a part: fewer have no register
_RARELY = 0.05  # share of a part's notes that may lie lower than it usually comes
_A2, _C3 = 45, 48  # MIDI numbers; 110 Hz and 131 Hz (ISO 16)
_CROSSED = 0.5  # share of its time


@record(eq=False, kw_only=True)
class HighParts:
    """Bass parts that lie high as a whole, columns [h].

    ``part`` int64 index into song.parts; ``start``, ``end`` int64 ticks of its first and last note;
    ``lowest`` int64: its lowest note but for one in twenty, a MIDI number; ``crossed`` float64
    0..1: share of its time in which other parts sound at its height or below; ``alone`` bool: its
    register tells so without them.
    """

    part: Ints
    start: Ints
    end: Ints
    lowest: Ints
    crossed: Floats
    alone: NDArray[np.bool_]


def hear_high_parts(bass: Notes, others: Notes) -> HighParts:
    """The lowest part of ``bass`` if it lies high.

    ``others``: notes of the pitched parts that are no basses. Both in order of time.
    """
    rows: list[tuple[int, int, int, int, float, bool]] = []
    lines = [np.flatnonzero(bass.part == part) for part in distinct(bass.part).tolist()]
    usual = [_usual_lowest(bass.pitch[mine]) for mine in lines]
    lowest = min(usual, default=0)
    if lowest >= _A2:
        mine = lines[usual.index(lowest)]
        line = bass.take(mine)
        crossed = _crossed(line, others)
        alone = lowest >= _C3 or int(line.pitch.min()) >= _A2
        if len(mine) >= _FEWEST and (alone or crossed >= _CROSSED):
            part, first, last = int(line.part[0]), int(line.start[0]), int(line.end.max())
            rows.append((part, first, last, lowest, crossed, alone))
    table = list(zip(*rows, strict=True)) if rows else [()] * 6
    return HighParts(
        part=np.array(table[0], dtype=np.int64),
        start=np.array(table[1], dtype=np.int64),
        end=np.array(table[2], dtype=np.int64),
        lowest=np.array(table[3], dtype=np.int64),
        crossed=np.array(table[4], dtype=np.float64),
        alone=np.array(table[5], dtype=bool),
    )


def _usual_lowest(pitch: NDArray[np.int16]) -> int:
    """The pitch below which no more than one note in twenty lies."""
    at = int(_RARELY * len(pitch))
    return int(np.partition(pitch, at)[at])


def _crossed(line: Notes, others: Notes) -> float:
    """Share of the time of ``line`` in which ``others`` sound at its height or below it."""
    length = line.end - line.start
    under = 0.0
    for pitch in distinct(line.pitch).tolist():
        below = others.take(others.pitch <= pitch)
        if len(below):
            clock = sounding_clock(below.start, np.maximum(below.end, below.start + 1))
            mine = line.pitch == pitch
            under += float((clock(line.end[mine]) - clock(line.start[mine])).sum())
    return under / max(float(length.sum()), 1.0)
