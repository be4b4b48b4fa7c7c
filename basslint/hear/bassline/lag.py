"""Does a bass part lie a constant time behind or before the drums, all through the song?

Latency of a recording or of an instrument moves every note alike. So the distances from bass onsets
to all drum hits around are gathered, and the one that most of them share is the part's lag; where
several are shared, bass drums and the onsets of the other parts have a say as well. It is
told where nearly all onsets share it, hardly any lie on a hit, and the other parts do not lag so:
then it is the bass, not the drums, that was moved. A player's feel is less and scatters more.

Common practice, no source; the limits were set on real songs (`tests/bench/shifts.py`).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from basslint.song.events import Notes
from basslint.song.timing import TempoMap
from basslint.util.columns import TINY, median, rows_where, turns
from basslint.util.records import record

Floats = NDArray[np.float64]

_REACH_S = 0.2  # further than this from a hit, an onset belongs to another one
_SAME_S = 0.008  # onsets that share a lag lie within this of each other
_LEAST_S = 0.025  # a lag of less is a feel
_SHARED = 0.4  # share of the onsets that must have it
_NEARER = 3.0  # a lag that is a second less is worth so many shares: in sixteenths of hats a bass
# that is late by one lag is early by another, and the smaller one is the likelier
_KICKS = (35, 36)  # bass drums of General MIDI
_ON_HIT = 0.2  # share of the onsets that may lie on a hit all the same
_FEWEST = 16  # onsets near hits: fewer tell nothing


@record(eq=False, kw_only=True)
class Lags:
    """Bass parts that lie off the drums, columns [p].

    ``part`` int64 index into song.parts; ``start``, ``end`` int64 ticks of its first and last note;
    ``seconds`` float64: how far behind the drums, negative before them; ``share`` float64 0..1:
    share of its onsets near drum hits that have just that lag.
    """

    part: NDArray[np.int64]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    seconds: Floats
    share: Floats


def hear_lags(bass: Notes, drums: Notes, others: Notes, tempo: TempoMap) -> Lags:
    """The bass parts with a constant lag to ``drums`` that ``others`` (no basses) do not have."""
    hits = _onsets(drums.start, tempo)

    def accents() -> tuple[Floats, Floats]:
        kicks = (drums.pitch == _KICKS[0]) | (drums.pitch == _KICKS[1])
        return _onsets(drums.start[kicks], tempo), _onsets(others.start, tempo)

    rows: list[tuple[int, int, int, float, float]] = []
    for part in bass.parts:
        mine = rows_where(bass.part == part)
        found = _lag(_onsets(bass.start[mine], tempo), hits, accents)
        if found is None or abs(found[0]) < _LEAST_S:
            continue
        shared = _lag(_onsets(others.start, tempo), hits)
        if shared is not None and abs(shared[0] - found[0]) <= 2 * _SAME_S:
            continue
        rows.append((part, int(bass.start[mine[0]]), int(bass.end[mine].max()), *found))
    return _table(rows) if rows else _NONE


def _table(rows: list[tuple[int, int, int, float, float]]) -> Lags:
    """Rows as columns."""
    table = list(zip(*rows, strict=True)) if rows else [()] * 5
    return Lags(
        part=np.array(table[0], dtype=np.int64),
        start=np.array(table[1], dtype=np.int64),
        end=np.array(table[2], dtype=np.int64),
        seconds=np.array(table[3], dtype=np.float64),
        share=np.array(table[4], dtype=np.float64),
    )


_NONE = _table([])


def _onsets(start: NDArray[np.int64], tempo: TempoMap) -> Floats:
    """Seconds at which notes begin that are in order of time, each once."""
    return np.asarray(tempo.seconds(start[turns(start)]))


def _lag(
    onsets: Floats, hits: Floats, accents: Callable[[], tuple[Floats, ...]] = tuple
) -> tuple[float, float] | None:
    """The lag that most onsets share and their share; 0 where enough of them lie on hits.

    ``accents`` gives what else begins where a bass note is likely to, which decides between lags;
    nothing unless stated.
    """
    if not len(hits) or not len(onsets):
        return None
    first = hits.searchsorted(onsets - _REACH_S)
    count = hits.searchsorted(onsets + _REACH_S) - first
    near = int((count > 0).sum())
    if near < _FEWEST:
        return None
    # most songs are told apart here: a trifle less than what lies on a hit is enough of it
    close = _SAME_S - TINY
    sure = hits.searchsorted(onsets + close, "right") - hits.searchsorted(onsets - close)
    if int(sure.sum()) > _ON_HIT * near:
        return 0.0, float(sure.sum()) / near
    away = _distances(onsets, hits)
    inside = away.searchsorted(away + 2 * _SAME_S, side="right") - np.arange(len(away))
    votes = inside.astype(np.float64)
    for others in accents():
        apart = _distances(onsets, others)
        votes += apart.searchsorted(away + 2 * _SAME_S, side="right")
        votes -= apart.searchsorted(away)
    best = int(np.argmax(votes / near - _NEARER * np.abs(away + _SAME_S)))
    lag = float(median(away[best : best + inside[best]]))
    share = float(inside[best]) / near
    on_hit = float((np.abs(away) <= _SAME_S).sum()) / near
    if abs(lag) <= _SAME_S or on_hit > _ON_HIT or share < _SHARED:
        return 0.0, on_hit
    return lag, share


def _distances(onsets: Floats, hits: Floats) -> Floats:
    """Seconds from each hit within `_REACH_S` of each onset to that onset, rising."""
    first = hits.searchsorted(onsets - _REACH_S)
    count = hits.searchsorted(onsets + _REACH_S) - first
    row = np.arange(len(onsets)).repeat(count)
    nth = np.arange(len(row)) - np.repeat(count.cumsum() - count, count)
    return np.sort(onsets[row] - hits[first[row] + nth])
