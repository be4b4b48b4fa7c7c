"""What does a bass part play at the place of a note where its loop comes round?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.notes import bar_and_place
from basslint.util.columns import kinds_of
from basslint.util.records import record

_PLACES = 8  # places in a quarter: thirty-seconds, so that ragged notes share one
_REACH = 64  # bars looked at on either side: bounds time
_ALIKE = 0.6  # share of the notes around that must come back for the place to be the same


@record(eq=False, kw_only=True)
class _Line:
    """One part's notes, columns [n] in order of time.

    ``rows`` of `Chart.bass`; bar, place in the bar, pitch; ``voice``: a number for each pitch on
    each place, of ``voices`` in all. ``edges``: how many notes begin before each bar, from so many
    before the first as are in reach to so many after the last, and one more at either end.
    """

    rows: NDArray[np.intp]
    bar: NDArray[np.int64]
    place: NDArray[np.int64]
    pitch: NDArray[np.int64]
    voice: NDArray[np.int64]
    voices: int
    edges: NDArray[np.intp]


@once_per_chart
def _lines(chart: Chart) -> dict[int, _Line]:
    """Every bass part by its index."""
    bass = chart.bass
    bar, place = bar_and_place(chart, bass.start, _PLACES)
    lines: dict[int, _Line] = {}
    for part in bass.parts:
        mine = np.flatnonzero(bass.part == part)
        pitch = bass.pitch[mine].astype(np.int64)
        kinds, voice = kinds_of(place[mine] * 128 + pitch)
        bars = np.arange(-_REACH - 1, int(bar[mine[-1]]) + _REACH + 3)
        lines[part] = _Line(
            rows=mine,
            bar=bar[mine],
            place=place[mine],
            pitch=pitch,
            voice=voice,
            voices=len(kinds),
            edges=bar[mine].searchsorted(bars),
        )
    return lines


def elsewhere(chart: Chart, row: int, alike: float = _ALIKE) -> int | None:
    """The bass note at the place of ``row`` in the bar most like its own; None if none is.

    One of another pitch. Gives its row, as ``row`` is one. ``alike``: the share of the notes around
    that must come back.

    Bars are alike in what the part plays in them and in the bars before and after, the note itself
    left out: a share of its notes at the same thirty-second with the same pitch. A part that plays
    a loop shows so what was meant at one place by what it plays there the other times.
    """
    line = _lines(chart)[int(chart.bass.part[row])]
    own = int(line.rows.searchsorted(row))
    bar, first = int(line.bar[own]), int(line.bar[own]) - _REACH - 1
    # where each bar in reach begins, one more at either end, and where the last one ends
    edges = line.edges[bar : bar + 2 * _REACH + 4]
    second, after = int(edges[1]), int(edges[-2])
    apart = np.abs(line.place[second:after] - line.place[own]) <= 1
    there = (apart & (line.pitch[second:after] != line.pitch[own])).nonzero()[0] + second
    there = there[line.bar[there] != bar]
    if not len(there):
        return None
    same, asked = _alike(line, own, edges, first)
    if not asked:
        return None
    like = same[line.bar[there] - first - 1]
    most = like.max()
    there = there[like == most]
    best = there[np.abs(line.bar[there] - bar).argmin()]  # of equally like bars, the nearest
    return int(line.rows[best]) if most >= alike * asked else None


def _alike(
    line: _Line, own: int, edges: NDArray[np.intp], first: int
) -> tuple[NDArray[np.float64], int]:
    """How many notes around the note ``own`` come back around each bar but the first and the last
    that ``edges`` bound, and how many there are. ``first``: the bar with which they begin."""
    begin, here, end, after = edges[_REACH : _REACH + 4].tolist()
    around = (  # in the bar before its own, in that, and in the one after
        line.voice[begin:here],
        np.concatenate((line.voice[here:own], line.voice[own + 1 : end])),
        line.voice[end:after],
    )
    near = slice(int(edges[0]), int(edges[-1]))
    voice, bar = line.voice[near], line.bar[near] - first
    before, there, later = (_come(voices, line.voices, voice, bar) for voices in around)
    return before[:-2] + there[1:-1] + later[2:], sum(len(voices) for voices in around)


def _come(
    asked: NDArray[np.int64], voices: int, voice: NDArray[np.int64], bar: NDArray[np.int64]
) -> NDArray[np.float64]:
    """How many notes of the voices ``asked`` each bar in reach has, no more than are asked for."""
    wanted = np.zeros(voices)
    wanted[asked] = 1.0
    found = np.bincount(bar, weights=wanted[voice], minlength=2 * _REACH + 3)
    return np.minimum(found, len(asked))
