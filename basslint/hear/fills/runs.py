"""Which runs of short steps stand out from the bars around them?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.fills.grid import STEPS
from basslint.hear.fills.hits import Hits
from basslint.song.arrangement import Song
from basslint.util.columns import differences, rows_where
from basslint.util.records import record

Column = NDArray[np.float64]
Ints = NDArray[np.int64]
Run = tuple[int, int, float]  # first hit, last hit, share of the busier side's bars with such steps

# Longest step of each level, in quarter notes: half way (by ratio) to the next slower grid.
LEVELS: Column = np.sqrt(STEPS * np.concatenate(([1 / 3], STEPS[:-1])))
# Of four bars on either side so many may hold such steps too. Sixteenths are common in a groove,
# so one bar in four (or three, where the part begins or ends); faster steps may come every
# second bar.
SIDE = 4
MOST_OF_SIDE = np.array([0.34, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5])
LONGEST_BARS = 2.0  # a longer run is a section, not a fill
FEWEST_ONSETS = 4
SHORTEST_QUARTERS = 0.18  # less is an ornament of one note (a drag, a ruff)
SHORTEST_SLOW = 0.45  # of a run of sixteenths or sixteenth triplets
JITTER_S = 0.016  # two hits up to 8 ms off, in opposite directions
_GAPS = 3  # gaps together, which are a third as jittery as one
_EIGHTH, _NEAR = 0.5, 0.06  # quarters: what two swung sixteenths make, and how nearly
_LONGEST_SWUNG = 0.36  # quarters: two thirds of an eighth, and a little for the hand
_ROUNDING = 0.05  # quarters by which a run of whole bars may be longer
BREATH = 0.55  # quarters; a fill may pause for an eighth between two of its runs


@record(eq=False, kw_only=True)
class Line:
    """The hits of all streams with their clocks, columns [n]; ``gap`` is inf at a stream's end."""

    hits: Hits
    quarter: Column
    gap: Column
    quarter_s: Column
    bar: Ints
    first_bar: Ints  # [streams]
    last_bar: Ints  # [streams]


def clocks(song: Song, hits: Hits) -> Line:
    """Give every hit its place in quarter notes and bars, and its tempo."""
    start = song.notes.start[hits.row]
    quarter = start / song.division
    gap = np.concatenate((differences(quarter), [np.inf]))
    change = rows_where(differences(hits.stream))
    gap[change] = np.inf
    tempo = song.tempo
    usec = tempo.usec_at(start)
    bar = song.grid.bar_of(start)
    heads, tails = np.concatenate(([0], change + 1)), np.concatenate((change, [len(start) - 1]))
    return Line(
        hits=hits,
        quarter=quarter,
        gap=gap,
        quarter_s=usec / 1e6,
        bar=bar,
        first_bar=bar[heads],
        last_bar=bar[tails],
    )


def _short(line: Line, level: int) -> NDArray[np.bool_]:
    """Whether the gap after each hit is a step of this level or faster."""
    gap, most = line.gap, float(LEVELS[level])
    before, after = np.concatenate(([np.inf], gap[:-1])), np.concatenate((gap[1:], [np.inf]))
    # three gaps together are a third as jittery as one
    blurred = (gap <= most + JITTER_S / line.quarter_s) & ((before + gap + after) / _GAPS <= most)
    short = (gap <= most) | blurred
    if level == 0:  # swung sixteenths: long and short make an eighth
        for other in (before, after):
            pair = np.abs(gap + other - _EIGHTH) < _NEAR
            short |= pair & (gap < _LONGEST_SWUNG) & (other < _LONGEST_SWUNG)
    return np.asarray(short)


def standing_out(song: Song, line: Line) -> list[Run]:
    """The runs of short steps that the bars around hardly know, slowest steps first.

    A run whose steps are common around is tried again at the next faster level, where less of it
    (or of its neighbours) counts as short.
    """
    bars = song.grid.bars
    taken = np.zeros(len(line.gap), dtype=bool)
    found: list[Run] = []
    bar_quarters = differences(song.grid.start) / song.division
    for level in range(len(LEVELS)):
        short = _short(line, level)
        edge = differences(np.concatenate(([0], short.astype(np.int8), [0])))
        first, last = rows_where(edge == 1), rows_where(edge == -1)
        keep = last - first >= FEWEST_ONSETS - 1
        first, last = first[keep], last[keep]
        if not len(first):
            break
        length = line.quarter[last] - line.quarter[first]
        keep = length >= SHORTEST_QUARTERS if level > 1 else length >= SHORTEST_SLOW
        first, last, length = first[keep], last[keep], length[keep]
        left, right = _sides(line, first, last, bars)
        share = np.maximum(left[0] / np.maximum(left[1], 1), right[0] / np.maximum(right[1], 1))
        good = (
            (length <= LONGEST_BARS * bar_quarters[line.bar[first]] + _ROUNDING)
            & (share <= MOST_OF_SIDE[level])
            & (left[1] + right[1] >= 2)
        )
        for run in rows_where(good).tolist():
            begin, end = int(first[run]), int(last[run])
            if not np.count_nonzero(taken[begin : end + 1]):
                taken[begin : end + 1] = True
                found.append((begin, end, float(share[run])))
    return sorted(found)


def _sides(
    line: Line, first: Ints, last: Ints, bars: int
) -> tuple[tuple[Ints, Ints], tuple[Ints, Ints]]:
    """(bars with such runs, bars) of the `SIDE` bars before and after each run, same stream."""
    stream = line.hits.stream
    base = stream * (bars + 1)
    busy = np.zeros((int(stream[-1]) + 1) * (bars + 1) + 1, dtype=np.int64)
    inside = np.zeros(len(stream) + 1, dtype=np.int64)
    np.add.at(inside, first, 1)
    np.add.at(inside, last, -1)
    steps = rows_where(inside.cumsum()[:-1] > 0)
    count = np.bincount(base[steps] + line.bar[steps], minlength=len(busy) - 1)
    busy[1:] = count >= 2
    total = busy.cumsum()
    of = stream[first]
    low, high = line.first_bar[of], line.last_bar[of]
    begin, end = line.bar[first], line.bar[last - 1] + 1
    shift = base[first]
    left_from = np.maximum(begin - SIDE, low)
    right_to = np.minimum(end + SIDE, high + 1)
    right_to = np.maximum(right_to, end)
    left = total[shift + begin] - total[shift + left_from]
    right = total[shift + right_to] - total[shift + end]
    return (left, begin - left_from), (right, right_to - end)


def join(line: Line, runs: list[Run]) -> list[Run]:
    """Join runs of one stream that are an eighth or less apart: one fill that breathes."""
    joined: list[Run] = []
    for first, last, share in runs:
        if joined and first <= joined[-1][1] + 1 and line.gap[joined[-1][1]] <= BREATH:
            begin, _, other = joined.pop()
            joined.append((begin, last, max(share, other)))
        else:
            joined.append((first, last, share))
    return joined
