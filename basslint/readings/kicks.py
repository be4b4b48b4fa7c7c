"""How far off the kick does a bass note start: as its part usually does, by feel, or by a slip?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.fills.grid import median
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import bar_and_place, milliseconds, named
from basslint.theory.general_midi import DRUM_CHANNEL, KICKS, NO_KICKS
from basslint.util.columns import distinct, found_in, turns
from basslint.util.records import record

_FLAM_MS = 40.0  # further off it is another hit of the rhythm, and says nothing of the feel
_ALIKE_MS = 5.0  # two offsets that differ by less are one habit: human timing scatters as far
_MOST_TICKS = 1.5  # a coarse file's rounding sets the same offset down a tick apart, not two
_NEARLY_ALL = 0.8  # share of the hits that must keep to it
_FEWEST = 4  # hits that make a habit
_PLACES = 4  # places in a quarter
_LOOSE = 8  # hits from which a part that keeps no habit still has a middle
_HALF_TO_SPREAD = 1.4826  # half the width of the shortest half of a normal spread, to its deviation
_LEAST_SPREAD_MS = 1.0  # of a part that was drawn on the grid
_IS_KICK = found_in(np.arange(128), KICKS)
_NO_KICK = found_in(np.arange(128), NO_KICKS)
_KICK_NAMES = ("kick", "bass drum", "bassdrum", "bd")
_FELT_MS, _SPREADS = 10.0, 3.0  # a note that strays further than both is no feel and no scatter
_EARSHOT_MS = 100.0  # further from a kick than this, nobody hears the two as one hit
_ROUNDED = 0.2  # share of a part's hits that lie up to 10 ms off the rest: a hand, rounded
_OFTEN = 4  # hits that make a drum pitch a repeated one


@record(eq=False)
class _Feel:
    """How each bass note's kind lies beside the kick, columns of milliseconds [m].

    ``usual``: its middle; ``spread``: how far it scatters; ``habit`` bool: it hardly does.
    """

    usual: NDArray[np.float64]
    spread: NDArray[np.float64]
    habit: NDArray[np.bool_]


@reading("bass-note", unit="ms", source="kick: General MIDI 1 percussion map, notes 35 and 36")
def kick_offset(chart: Chart) -> Column:
    """How long after the nearest kick it starts; negative before it.

    Told within 100 ms, and only for the note that is nearest to that kick of all that its
    instrument plays: where one note sits on the kick, the next one of a roll does not flam with it,
    while a second bass beside the first does. Not told for notes that a slide reaches without a new
    hit, nor for the hits of a roll after its first: they keep the roll's own grid, triplets over
    a straight kick for one. Kicks are the notes 35 and 36 on channel 10, the notes of a part named
    so, or else the lowest repeated drum pitch that is no other drum by the percussion map.
    """
    kicks = kick_ticks(chart)
    start = chart.bass.start
    if not len(kicks) or not len(start):
        return np.full(len(start), np.nan)
    kick = kicks[nearest(kicks, start)]
    offset = milliseconds(chart, kick, start)
    near = np.abs(offset) <= _EARSHOT_MS
    aside = (near & (kick != start)).nonzero()[0]  # what sits on its kick is nearest to it
    player = chart.parts.group[chart.bass.part]
    for one in distinct(player[aside]).tolist():
        mine, onset = aside[player[aside] == one], start[player == one]
        near[mine] = start[mine] == onset[nearest(onset, kick[mine])]
        near[mine] &= ~_in_run(chart, distinct(onset), start[mine])
    unstruck = np.zeros(len(chart.song.notes), dtype=bool)
    for hits in chart.fills.notes:
        unstruck[hits[1:]] = True
    slides = chart.slides
    unstruck[slides.note[(slides.overlap > 0) & (slides.note != slides.source_note)]] = True
    near &= ~unstruck[chart.bass_rows]
    return np.where(near, offset, np.nan)


def _in_run(chart: Chart, onset: NDArray[np.int64], start: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether another of the ``onset``s of its player comes within 40 ms of each ``start``."""
    at, column = onset.searchsorted(start), np.zeros(len(start), dtype=bool)
    for beside in (at - 1, at + 1):
        there = np.minimum(np.maximum(beside, 0), len(onset) - 1)
        column |= (there == beside) & (np.abs(milliseconds(chart, start, onset[there])) <= _FLAM_MS)
    return column


@reading("bass-note", unit="ms")
def kick_gap(chart: Chart) -> Column:
    """How far the nearest kick is from its start, before or after; told as `kick_offset` is."""
    return np.abs(kick_offset(chart)).round(1)


@reading("bass-note", unit="text")
def kick_side(chart: Chart) -> Column:
    """Does it start before or after the nearest kick?"""
    return named(np.sign(kick_offset(chart)), lambda way: "after" if way > 0 else "before")


@reading("bass-note", unit="ms")
def usual_kick_offset(chart: Chart) -> Column:
    """How long after the kick notes like it usually start, negative before it.

    Notes like it: those of its part on the same sixteenth of the bar, or else all of its part that
    lie within 40 ms of a kick. A habit: four in five or more of them, and four at least, lie within
    5 ms of their median, or within a tick of the file where that is longer. Where there is none,
    the middle of that half of eight notes or more which lies closest together, else 0.
    """
    return _feel(chart).usual


@reading("bass-note", unit="ms")
def kick_stray(chart: Chart) -> Column:
    """How far its start lies from where notes like it usually start beside the kick.

    Nothing where it is a tick of the file or less, which is as exactly as the file can say it.
    """
    away = np.abs(kick_offset(chart) - _feel(chart).usual)
    with np.errstate(invalid="ignore"):
        return np.round(np.where(away < _MOST_TICKS * _tick_ms(chart), 0.0, away), 1)


@reading("bass-note", unit="spreads", source="shortest half of the data, as of a normal spread")
def kick_spreads(chart: Chart) -> Column:
    """How many times the usual scatter of notes like it it strays from its place by the kick."""
    feel = _feel(chart)
    return np.asarray(np.abs(kick_offset(chart) - feel.usual) / feel.spread)


@reading("bass-note", unit="share")
def kick_keeping(chart: Chart) -> Column:
    """Of its part's other notes within 40 ms of a kick: the share that keep their usual place.

    Within 5 ms of it, or a tick of the file where that is longer. A part that was drawn on the
    grid has 1, one that a hand plays freely half or less.
    """
    offset, part = kick_offset(chart), chart.bass.part.astype(np.int64)
    with np.errstate(invalid="ignore"):
        met = np.abs(offset) <= _FLAM_MS
        keeps = met & (np.abs(offset - _feel(chart).usual) < _alike_ms(chart))
    whole = np.bincount(part, weights=met, minlength=1)[part] - met
    kept = np.bincount(part, weights=keeps, minlength=1)[part] - keeps
    return np.asarray(kept / np.maximum(whole, 1.0))


@reading("bass-note", unit="notes")
def strays_in_part(chart: Chart) -> Column:
    """How many notes of its part stray from their usual place by the kick, and within 40 ms of it.

    By more than 10 ms and three times their usual scatter. One or two are slips of a hand, more
    are its way to play. In a part that was drawn on the grid none is: each counts alone. A hand
    shows even where a coarse file rounds it: more than a fifth of the notes lie a few ms off.
    """
    part = chart.bass.part.astype(np.int64)
    with np.errstate(invalid="ignore"):
        strays = (kick_stray(chart) > _FELT_MS) & (kick_spreads(chart) > _SPREADS)
        strays &= kick_gap(chart) <= _FLAM_MS
        met = np.abs(kick_offset(chart)) <= _FLAM_MS
        away = np.abs(kick_offset(chart) - _feel(chart).usual)
        off = met & (away > _tick_ms(chart) / 2) & (away <= _FELT_MS)
    by_hand = np.bincount(part, weights=_feel(chart).spread > _LEAST_SPREAD_MS, minlength=1) > 0
    by_hand |= np.bincount(part, off, minlength=1) > _ROUNDED * np.bincount(part, met, minlength=1)
    return np.where(by_hand, np.bincount(part, weights=strays, minlength=1), 1.0)[part]


@reading("bass-note", unit="yes or no")
def first_with_feel(chart: Chart) -> Column:
    """Is it the first note of its part that keeps a habit of 3 ms or more beside the kick?"""
    offset, feel = kick_offset(chart), _feel(chart)
    with np.errstate(invalid="ignore"):
        keeps = np.abs(offset - feel.usual) < _alike_ms(chart)
    keeps &= feel.habit & (np.abs(feel.usual) >= _HEARD_MS)
    rows = keeps.nonzero()[0]
    column = np.zeros(len(offset), dtype=bool)
    column[rows[np.unique(chart.bass.part[rows], return_index=True)[1]]] = True
    return column


@reading("bass-note", unit="yes or no")
def with_the_kit(chart: Chart) -> Column:
    """Is another drum struck with it, within 5 ms, where the kick is not?

    Then bass and kit agree, and it is the kick that strays: in a drag before the stroke, say.
    """
    start, song = chart.bass.start, chart.song
    column = np.zeros(len(start), dtype=bool)
    off = (np.abs(kick_offset(chart)) > _ALIKE_MS).nonzero()[0]
    if len(off):
        drums = distinct(song.notes.start[song.rows_of(chart.parts.drums)])
        struck = drums[nearest(drums, start[off])]
        column[off] = np.abs(milliseconds(chart, struck, start[off])) <= _ALIKE_MS
    return column


_HEARD_MS = 3.0  # below it the two waves still start as one


def _tick_ms(chart: Chart) -> NDArray[np.float64]:
    """How long a tick lasts at each bass note."""
    usec = chart.song.tempo.usec_at(chart.bass.start)
    return np.asarray(usec / (1000.0 * chart.song.division))


def _alike_ms(chart: Chart) -> NDArray[np.float64]:
    """How much less than this two offsets of one habit differ, at each bass note."""
    return np.maximum(_ALIKE_MS, _MOST_TICKS * _tick_ms(chart))


@once_per_chart
def _feel(chart: Chart) -> _Feel:
    bass = chart.bass
    offset = kick_offset(chart)
    feel = _Feel(
        np.zeros(len(bass)), np.full(len(bass), _LEAST_SPREAD_MS), np.zeros(len(bass), dtype=bool)
    )
    with np.errstate(invalid="ignore"):
        rows = (np.abs(offset) <= _FLAM_MS).nonzero()[0]
    if not len(rows):
        return feel
    alike = _alike_ms(chart)
    _, place = bar_and_place(chart, bass.start[rows], _PLACES)
    part = bass.part[rows].astype(np.int64)
    for group in (part, part * (int(place.max()) + 1) + place):
        order = np.argsort(group, kind="stable")
        for mine in np.split(rows[order], np.diff(group[order]).nonzero()[0] + 1):
            own = np.sort(offset[mine])
            middle = median(own)
            like = np.abs(own - middle) < alike[mine[0]]
            if len(mine) >= _FEWEST and np.mean(like) >= _NEARLY_ALL:
                feel.usual[mine], feel.habit[mine] = middle, True
                feel.spread[mine] = _LEAST_SPREAD_MS
            elif group is part and len(mine) >= _LOOSE:
                low, high = _shortest_half(own)
                feel.usual[mine] = (low + high) / 2
                feel.spread[mine] = max(_HALF_TO_SPREAD * (high - low) / 2, _LEAST_SPREAD_MS)
    return feel


def _shortest_half(rising: NDArray[np.float64]) -> tuple[float, float]:
    """The narrowest stretch that holds half of some values; of equal ones that nearest to 0."""
    half = (len(rising) + 1) // 2
    low, high = rising[: len(rising) - half + 1], rising[half - 1 :]
    best = int(np.lexsort((np.abs(low + high), np.round(high - low, 3)))[0])
    return float(low[best]), float(high[best])


@once_per_chart
def kick_ticks(chart: Chart) -> NDArray[np.int64]:
    """Ticks of the kicks, rising and without repeats."""
    song, notes, drums = chart.song, chart.song.notes, chart.parts.drums
    by_name = [i for i in drums if _is_kick(song.parts[i].name)]
    if by_name:
        return distinct(notes.start[song.rows_of(by_name)])
    kit = song.rows_of([i for i in drums if song.parts[i].channel == DRUM_CHANNEL])
    found = kit[_IS_KICK[notes.pitch[kit]]]
    if not len(found):
        on_drums = kit[~_NO_KICK[notes.pitch[kit]]] if len(kit) else song.rows_of(drums)
        often = (np.bincount(notes.pitch[on_drums]) >= _OFTEN).nonzero()[0]
        if not len(often):
            return np.zeros(0, dtype=np.int64)
        found = on_drums[notes.pitch[on_drums] == often[0]]
    tick = notes.start[found]
    return tick[turns(tick)]


def kick_at(chart: Chart, tick: int) -> int | None:
    """Tick of the kick nearest to a tick."""
    kicks = kick_ticks(chart)
    return int(kicks[nearest(kicks, np.array([tick]))[0]]) if len(kicks) else None


def _is_kick(name: str) -> bool:
    return any(word in name.casefold().replace("_", " ") for word in _KICK_NAMES)


def nearest(marks: NDArray[np.int64], ticks: NDArray[np.int64]) -> NDArray[np.intp]:
    """Index of the mark nearest to each tick; ``marks`` rise."""
    after = np.minimum(marks.searchsorted(ticks), len(marks) - 1)
    before = np.maximum(after - 1, 0)
    closer = np.abs(ticks - marks[before]) <= np.abs(marks[after] - ticks)
    return np.where(closer, before, after)
