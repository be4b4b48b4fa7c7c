"""Does a stretch of a bass part, or one hit, lie an eighth or a sixteenth off its own places?

A line strikes on the same places of the bar again and again. A clip that was dropped beside its
place strikes, or changes its tone, where the part else hardly ever does, and would do so where it
nearly always does if it were moved. So each four bars are held against all other bars of the part,
as written and moved; one hit likewise, where a single bar has it late. What the other parts meet
better where it stands is meant: a push of the whole band is no slip. An early hit alone is a push,
a late one that stands in the rests of other parts, or in a bar of another rhythm, a turn.

Limits were set by hand on real songs: in 43,908 bars as written one stretch passes them, no hit.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.bar_runs import best_run, joined, sums_to
from basslint.song.events import Notes
from basslint.song.timing import BarGrid
from basslint.util.columns import found_in, median, rows_where, turns, within
from basslint.util.records import record

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Stray = tuple[int, int, int, float, bool]  # from and to, sixteenths late, certainty, one hit

_WINDOW, _FEWEST_BARS = 4, 8  # bars that are heard together, and that others must be at least
_MOST_SILENT = 1  # of the bars of a window
_AT_HOME = 0.5  # mean share of other bars that strike where the window does: it is in place
_ARRIVES, _GAINS = 0.5, 0.3  # that share once moved, and how much more it must be
_LEAD = 3.0  # log odds a bar by which the moved bars must be likelier
_RAREST = 0.04  # share: how often a place is struck is not known better than that
_AS_WELL = 0.9  # of how often others strike where its hits fall: so often where they would, moved
_FEWEST_COPIES = 2  # bars that a moved one is a copy of
_PRIOR = 7.0  # log odds against a stretch that was moved: one in a thousand windows
_SHORTEST = 3  # bars of a stretch
_OFF_GRID = 4  # a stretch that was moved keeps its distance to the grid to a fourth of a sixteenth
_SELDOM = 0.05  # share of other bars with a hit where one is late
_MOSTLY = 0.9  # and where it was due
_BY, _LATE = (1, 2, -1, -2), (1, 2)  # sixteenths; a root early by an eighth is a push
_ONE_HIT = 2  # places at which a bar with one late hit is odd: where it falls, where it was due
_REACH = max(_BY)
_HARMONY, _KICK, _CHORD = 1, slice(0, 2), slice(0, 3)  # of marks: with bass drum, change of chord


def hear_strays(line: Notes, marks: Bools, grid: BarGrid, slot: int) -> list[Stray]:
    """What lies off its own places in a part, in bars of one length: ticks from and to, how far.

    ``marks`` [4, s]: which sixteenths, of ``slot`` ticks, a bass drum, the harmony, a change of
    chord and a bar begin in.
    """
    length, start = int(grid.start[1]), line.start
    if grid.division % slot or length % slot or _uneven(grid, length):
        return []
    found = _strays(line, marks, (grid.bars, length // slot), slot)
    end = np.maximum(line.end, start + 1)
    end[:-1] = np.minimum(end[:-1], start[1:])
    return [(int(start[a]), int(end[b]), by, sure, hit) for a, b, by, sure, hit in found]


def _uneven(grid: BarGrid, length: int) -> bool:
    return bool((grid.start[:-1] != length * np.arange(grid.bars)).any())


def _strays(line: Notes, marks: Bools, bars: tuple[int, int], slot: int) -> list[Stray]:
    """As `hear_strays`, from and to as rows; ``bars``: how many, and of how many sixteenths."""
    start = line.start
    at = (start + slot // 2) // slot
    hits = _Hits(at, start - at * slot, _struck(at, bars), marks, bars, slot)
    here = _moved(hits.on, bars, 0)
    if int(_any(here).sum()) <= _FEWEST_BARS:
        return []
    found = _stretches(at, hits.on, _BY, hits)
    if not found:  # even eighths fit an eighth later, too: then the changes of tone tell
        turning = at[turns(line.pitch % 12)]
        found = _stretches(turning, _struck(turning, bars), _LATE, hits)
    return found + _late_hits(here, hits)


@record(eq=False)
class _Hits:
    """The sixteenth of each note of a part, and ticks beside it, int64 [n]; which are struck."""

    at: Ints
    beside: Ints
    on: Bools
    marks: Bools
    bars: tuple[int, int]
    slot: int


def _struck(at: Ints, bars: tuple[int, int]) -> Bools:
    """Which sixteenths something begins in, with room to move it."""
    length = bars[0] * bars[1]
    on = np.zeros(length + 2 * _REACH, dtype=bool)
    on[at[at < length] + _REACH] = True
    return on


def _moved(on: Bools, bars: tuple[int, int], by: int) -> Bools:
    """Which places of each bar are struck if all is brought ``by`` sixteenths forward, [b, p]."""
    return on[_REACH + by : _REACH + by + bars[0] * bars[1]].reshape(bars)


def _any(here: Bools) -> Bools:
    """In which bars anything begins."""
    return np.asarray(here.any(axis=1))


def _windows(here: Bools) -> Floats:
    so_far = sums_to(here.astype(np.float64))
    return so_far[_WINDOW:] - so_far[:-_WINDOW]


def _stretches(at: Ints, on: Bools, ways: tuple[int, ...], hits: _Hits) -> list[Stray]:
    """Stretches of four bars or so in which what begins ``at`` lies beside its usual places."""
    here, bars = _moved(on, hits.bars, 0), hits.bars[0]
    if bars < _WINDOW + _FEWEST_BARS:
        return []
    played, total, struck = _any(here), here.sum(axis=0), _windows(here)
    sounding = _windows(played[:, None])[:, 0]
    rest = int(played.sum()) - sounding
    usual = (total - struck) / np.maximum(rest, 1)[:, None]
    home = _fit(struck, usual)
    odd = (home <= _AT_HOME) & (sounding >= _WINDOW - _MOST_SILENT) & (rest >= _FEWEST_BARS)
    rows = rows_where(odd)
    if not len(rows):
        return []
    usual, struck, asking = usual[rows], struck[rows], []
    odds, needed = _odds(usual), np.maximum(_ARRIVES, home[rows] + _GAINS)
    for by in ways:
        there = _windows(_moved(on, hits.bars, by))[rows]
        lead = ((there - struck) * odds).sum(axis=1)
        asks = (lead >= _LEAD * _WINDOW) & (_fit(there, usual) >= needed)
        asking += [(first, first + _WINDOW, by, 0.0) for first in rows[asks].tolist()]
    if not asking and on is hits.on:
        return _copies(rows, here, hits)
    share = total / max(int(played.sum()), 1)

    def gain(begin: int, end: int, by: int) -> Floats:
        written, rest = here[begin:end], int(played.sum() - played[begin:end].sum())
        moved = _moved(on, hits.bars, by)[begin:end].astype(np.float64)
        odds = _odds((total - written.sum(axis=0)) / max(rest, 1))
        return np.asarray(((moved - written) * odds).sum(axis=1))

    return [found for found, _ in _runs(asking, gain, share, at, hits)]


def _runs(
    asking: list[tuple[int, int, int, float]],
    gain: Callable[[int, int, int], Floats],
    share: Floats,
    at: Ints,
    hits: _Hits,
) -> list[tuple[Stray, slice]]:
    """Stretches that windows ask for, by the ``gain`` of each of their bars; and their bars."""
    found: list[tuple[Stray, slice]] = []
    free_from, bar = 0, hits.bars[1]
    for begin, end, by, _ in joined(asking, hits.bars[0]):
        gained = gain(begin, end, by)
        first, last = best_run(gained)
        sure = float(1.0 / (1.0 + np.exp(_PRIOR - gained[first:last].sum())))
        first, last = begin + first, begin + last
        if last - first < _SHORTEST or first < free_from or not _fits_there(first, last, by, hits):
            continue
        run = _run((first * bar, last * bar), by, at, share, hits)
        if run is not None:
            found.append(((*run, by, sure, False), slice(first, last)))
            free_from = last
    return found


def _copies(rows: NDArray[np.intp], here: Bools, hits: _Hits) -> list[Stray]:
    """Stretches of the windows from ``rows`` on whose bars, moved, are copies of other bars.

    As written they are of none. So a line is told that has several figures, each in a few bars.
    """
    places = 1 << np.arange(hits.bars[1], dtype=np.int64)
    figure, struck = here @ places, here.sum(axis=1)
    known = np.sort(figure)

    def often(figures: Ints) -> Ints:
        return known.searchsorted(figures, side="right") - known.searchsorted(figures)

    window, asking, copies = rows[:, None] + np.arange(_WINDOW), [], {}
    for by in _BY:
        there = _moved(hits.on, hits.bars, by)
        inner = there.copy()  # at its end a stretch meets what stands in its place
        inner[:, slice(-by, None) if by > 0 else slice(-by)] = False
        moved = np.maximum(often(there @ places), often(inner @ places))
        copies[by] = (moved >= _FEWEST_COPIES) & (struck > 1)
        asks = copies[by][window].sum(axis=1) >= _SHORTEST
        asking += [(first, first + _WINDOW, by, 0.0) for first in rows[asks].tolist()]

    def gain(begin: int, end: int, by: int) -> Floats:
        return np.where(copies[by][begin:end], _LEAD, -_LEAD)

    share = here.sum(axis=0) / len(here)
    runs = _runs(asking, gain, share, hits.at, hits)
    return [
        found
        for found, bars in runs
        if not (found_in(figure[bars], np.delete(figure, bars)) & (struck[bars] > 0)).any()
    ]


def _fit(struck: Floats, usual: Floats) -> Floats:
    """Mean share of the other bars, ``usual``, that have what is struck in some, [n] of [n, p]."""
    return np.asarray((struck * usual).sum(axis=1) / np.maximum(struck.sum(axis=1), 1))


def _fits_there(first: int, last: int, by: int, hits: _Hits) -> bool:
    """Would all hits of some bars, moved, fall where others strike about as often as they do?"""
    here = _moved(hits.on, hits.bars, 0)
    there = _moved(hits.on, hits.bars, by)
    usual = np.delete(here, slice(first, last), axis=0).sum(axis=0)[None].astype(np.float64)
    as_it_is, moved = (
        float(_fit(each[first:last].sum(axis=0)[None], usual)[0]) for each in (here, there)
    )
    return moved >= _AS_WELL * as_it_is


def _odds(share: Floats) -> Floats:
    """Log odds of places that are struck in such shares of the bars."""
    likely = np.clip(share, _RAREST, 1.0 - _RAREST)
    return np.asarray(np.log(likely / (1.0 - likely)))


def _run(
    bounds: tuple[int, int], by: int, at: Ints, share: Floats, hits: _Hits
) -> tuple[int, int] | None:
    """First and last of the notes that were moved ``by`` from between two bar lines.

    ``share``: of other bars in which something begins ``at`` each place. None where the others meet
    what begins there better where it stands, or where the notes keep another distance to the grid
    than the rest of their part: something else has moved them.
    """
    first, last = (edge + by for edge in bounds)
    low, high = hits.at.searchsorted((first, last)).tolist()
    places, bar = hits.at, len(share)
    own, moved = share[places % bar], share[(places - by) % bar]
    while high > low and places[high - 1] >= bounds[1] and own[high - 1] >= moved[high - 1]:
        high -= 1  # the bar behind begins in its place
    while low < high and places[low] < bounds[0] and own[low] >= moved[low]:
        low += 1  # the bar before ends in its place
    where = at[slice(*at.searchsorted((first, last)))]
    met, meets = (
        int(hits.marks.take(within(where - off, 0, hits.marks.shape[1] - 1), axis=1).sum())
        for off in (0, by)
    )
    inside, rest = hits.beside[low:high], np.delete(hits.beside, slice(low, high))
    if meets < max(met, 1) or not len(inside) or not len(rest):
        return None
    if abs(median(inside) - median(rest)) * _OFF_GRID > hits.slot:
        return None
    return low, high - 1


def _late_hits(here: Bools, hits: _Hits) -> list[Stray]:
    """Hits that a single bar has late, and nothing else: if more is odd in it, it is a turn."""
    found: list[Stray] = []
    total, played, bar = here.sum(axis=0), rows_where(_any(here)), here.shape[1]
    others = len(played) - 1
    seldom = (total > 0) & (total - 1 <= _SELDOM * others)
    mostly = total >= _MOSTLY * others
    odd = ((here & seldom) | (~here & mostly)).sum(axis=1)
    for by in _LATE:
        for late in (by + (seldom[by:] & mostly[:-by]).nonzero()[0]).tolist():
            rows = rows_where(here[:, late] & ~_any(here[:, late - by : late]))
            if len(rows) != 1 or odd[rows[0]] > _ONE_HIT:
                continue
            if rows[0] in (played[0], played[-1]):  # a line enters and ends as it likes
                continue
            place = int(rows[0]) * bar + late
            if _met_before(place, by, hits) and not _takes_turns(place, by, hits, mostly):
                low, high = hits.at.searchsorted((place, place + 1)).tolist()
                found.append((low, high - 1, by, float(total[late - by]) / others, True))
    return found


def _met_before(late: int, by: int, hits: _Hits) -> bool:
    """Do others strike where a hit was due, and none where it falls?"""
    return bool(hits.marks[_KICK, late - by].any() and not hits.marks[_CHORD, late].any())


def _takes_turns(late: int, by: int, hits: _Hits, mostly: Bools) -> bool:
    """Do the other parts and the line strike in turn, here and at the next hit or the last?

    Then it stands in their rests on purpose; but not beside one that most bars have there.
    """
    theirs, ours = hits.marks[_HARMONY], hits.on[_REACH:]
    there = late + 2 * by * np.array([-1, 1])
    turns = theirs[there - by] & ~ours[there - by] & ours[there] & ~theirs[there]
    return bool(theirs[late - by] and (turns & ~mostly[there % len(mostly)]).any())
