"""Does another part sound what a bass note sounds, and does it double the whole line?

A note that another part sounds as well is hardly a slip; and where a part doubles the line, what it
plays at a wrong note's place is what was meant there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.cover import sounding_clock
from basslint.song.arrangement import Notes
from basslint.util.columns import found_in, order_of, rows_where
from basslint.util.records import record

# Common practice, no source, for all of these:
_SOUNDS = 0.25  # share of a note that another part must sound its pitch class
_TOGETHER = 0.125  # quarters: a thirty-second apart, two parts strike together
_AROUND = 8  # notes on either side that tell whether a part doubles the line there
_FEWEST = 6  # notes that make a doubled line
_MOST = 0.75  # share of them that the other part strikes too, and of these with the same tone


@record(eq=False)
class Doubling:
    """What other parts make of each bass note, columns [m].

    ``sounded`` bool: another part sounds its pitch class under or over it; ``part`` int64: the part
    (index into song.parts) that doubles the line around it, −1 for none; ``tone`` int64: the pitch
    class that this part strikes with it, −1 where it strikes none, or several.
    """

    sounded: NDArray[np.bool_]
    part: NDArray[np.int64]
    tone: NDArray[np.int64]


def hear_doubling(
    notes: Notes, bass: Notes, pitched: Sequence[int], group: NDArray[np.int64], division: int
) -> Doubling:
    """Compare the notes of the bass parts with all other parts.

    ``notes``: all of the song; ``bass``: those of the bass parts, in order of time; ``pitched``:
    the parts that are no drums; ``group`` [parts]: parts of one instrument share a number.
    """
    none = np.full(len(bass), -1, dtype=np.int64)
    result = Doubling(np.zeros(len(bass), dtype=bool), none, none.copy())
    by_part = {p: notes.take(notes.part == p) for p in pitched}
    for part in bass.parts:
        rows = rows_where(bass.part == part)
        line = bass.take(rows)
        others = [p for p in pitched if group[p] != group[part]]
        everyone = notes.take(found_in(notes.part, others))
        result.sounded[rows] = _share(line, everyone) >= _SOUNDS
        best = np.zeros(len(rows))
        for other in others:
            tone, share = _doubles(line, by_part[other], division)
            better = share > best
            best[better] = share[better]
            result.part[rows[better]], result.tone[rows[better]] = other, tone[better]
    return result


def _share(line: Notes, others: Notes) -> NDArray[np.float64]:
    """Share of each note of a line during which others sound its pitch class, [n]."""
    if not len(others):
        return np.zeros(len(line))
    span = int(max(others.end.max(), line.end.max())) + 1
    others = others.take(order_of(others.pitch % 12))
    shift = (others.pitch % 12).astype(np.int64) * span
    clock = sounding_clock(shift + others.start, shift + others.end)
    mine = (line.pitch % 12).astype(np.int64) * span
    sounds = clock(mine + line.end) - clock(mine + line.start)
    return np.asarray(sounds / np.maximum(line.end - line.start, 1))


def _doubles(
    line: Notes, other: Notes, division: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The one pitch class that another part strikes with each note, −1 for none or several, and
    the share of the notes around with which it strikes the same one; 0 where it is no double."""
    near = int(_TOGETHER * division)
    first = other.start.searchsorted(line.start - near, side="left")
    last = other.start.searchsorted(line.start + near, side="right")
    tones = np.concatenate((other.pitch.astype(np.int64) % 12, [-1]))
    lone = last - first == 1
    tone = np.where(lone, tones[np.minimum(first, len(other))], -1)
    same = tone == line.pitch % 12

    def around(flags: NDArray[np.bool_]) -> NDArray[np.int64]:
        total = np.concatenate(([0], flags.cumsum()))
        at = np.arange(len(flags))
        low, high = np.maximum(at - _AROUND, 0), np.minimum(at + _AROUND + 1, len(flags))
        return np.asarray(total[high] - total[low] - flags)  # the note itself left out

    every, struck = around(np.ones(len(line), dtype=bool)), around(lone)
    agree = around(same)
    is_double = (struck >= _MOST * every) & (agree >= _MOST * struck) & (every >= _FEWEST)
    return tone, np.where(is_double, agree / np.maximum(every, 1), 0.0)
