"""Does a bass note lie in another octave than the part has its pitch class elsewhere?

Octaves are right in themselves, and a line may leap through them. In one that has a pitch class in
one octave all through the song, a bar with it in another is an exception. Common practice, no
source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import bar_and_place, words
from basslint.util.columns import distinct, found_in, kinds_of
from basslint.util.records import record

_PLACES = 4  # in a quarter; the place itself is not used
_KEYS, _OCTAVES = 128, 11  # MIDI numbers of a part, and their octaves, the last one not whole
_RARE = 0.125  # share of the bars with a pitch class: more of them are a way of the line
_HELD = 0.3  # quarters: what is shorter, such as the hits of a roll, tells of no register
_FEWEST = 3  # bars in which the pitch class lies in its usual octave: fewer are no habit


@record(eq=False)
class _Octaves:
    """For each bass note: ``usual``, the pitch at which its part has its pitch class, its own where
    there is no other habit; ``low``, ``high``: the range of the pitches that are no exception; all
    int64 [m]."""

    usual: NDArray[np.int64]
    low: NDArray[np.int64]
    high: NDArray[np.int64]


@reading("bass-note", unit="semitones")
def usual_octave_away(chart: Chart) -> Column:
    """How far up (or down, below 0) its part has its pitch class in nearly all other bars.

    0 where it lies there itself, where its own bar has it in both octaves, and where its part has
    it in fewer than three other bars, or in this octave in several bars and more than one in eight.
    """
    return np.asarray(_octaves(chart).usual - chart.bass.pitch, dtype=np.float64)


@reading("bass-note", unit="semitones")
def outside_register(chart: Chart) -> Column:
    """How far it lies below or above all pitches that are no such exception; 0 among them."""
    pitch, own = chart.bass.pitch.astype(np.int64), _octaves(chart)
    return np.asarray(np.maximum(np.maximum(own.low - pitch, pitch - own.high), 0), dtype=float)


@reading("bass-note", unit="text")
def usual_octave(chart: Chart) -> Column:
    """Where its part has its pitch class elsewhere, such as A1; its own name where it does not."""
    column, usual = words([None] * len(chart.bass)), _octaves(chart).usual
    for row in (usual_octave_away(chart) != 0).nonzero()[0].tolist():
        column[row] = chart.note_name(int(usual[row]), int(chart.bass.start[row]))
    return column


@reading("bass-note", unit="number")
def octave_figure(chart: Chart) -> Column:
    """A number for its part and its way to the usual octave: one slip moves all of these."""
    away = usual_octave_away(chart).astype(np.int64)
    return np.asarray(chart.bass.part.astype(np.int64) * 256 + 128 + away, dtype=np.float64)


@reading("bass-note", unit="bars")
def octave_bars(chart: Chart) -> Column:
    """In how many bars its part lies as far from its usual octave, its own among them."""
    figure, bars = octave_figure(chart).astype(np.int64), chart.song.grid.bars + 1
    bar, _ = bar_and_place(chart, chart.bass.start, _PLACES)
    in_bars = np.bincount(distinct(figure * bars + bar) // bars)
    return in_bars[figure].astype(np.float64)


@reading("bass-note", unit="yes or no")
def within_line(chart: Chart) -> Column:
    """Does its part play in the bar before it and in the bar after it?"""
    bar, _ = bar_and_place(chart, chart.bass.start, _PLACES)
    at = chart.bass.part.astype(np.int64) * (chart.song.grid.bars + 2) + bar
    played = distinct(at)
    return found_in(at - 1, played) & found_in(at + 1, played)


@once_per_chart
def _octaves(chart: Chart) -> _Octaves:
    bass = chart.bass
    pitch = bass.pitch.astype(np.int64)
    held = bass.end - bass.start > _HELD * chart.song.division
    there = np.zeros((_OCTAVES, 12), dtype=bool)
    there.ravel()[pitch[held]] = True
    if (there.sum(axis=0) <= 1).all():  # else nothing lies in two octaves
        return _Octaves(pitch, pitch, pitch)
    parts, line = kinds_of(bass.part.astype(np.int64))
    bar, _ = bar_and_place(chart, bass.start, _PLACES)
    bars = chart.song.grid.bars + 1
    once = distinct(((line * _KEYS + pitch) * bars + bar)[held])  # each pitch once in each bar
    key, at = once // bars, once % bars
    own = np.bincount(key, minlength=len(parts) * _KEYS).reshape(-1, _KEYS)
    tone = (key // _KEYS * 12 + key % _KEYS % 12) * bars + at
    by_tone = distinct(tone)
    octaves = np.bincount(by_tone.searchsorted(tone), minlength=1)  # of a pitch class in a bar
    both = octaves[by_tone.searchsorted(tone)] > 1
    mixed = np.bincount(key, weights=both, minlength=own.size).reshape(own.shape) > 0
    whole = np.bincount(by_tone // bars, minlength=len(parts) * 12).reshape(-1, 12)
    whole = whole[:, np.arange(_KEYS) % 12]  # bars with the pitch class of each pitch
    rare = (own > 0) & ~mixed & (whole - own >= _FEWEST)
    rare &= (own == 1) | (own <= _RARE * whole)
    home = np.where(rare, 0, own)
    by_octave = np.zeros((len(parts), _OCTAVES, 12), dtype=np.int64)
    by_octave.reshape(len(parts), -1)[:, :_KEYS] = home
    usual = by_octave.argmax(axis=1)[:, np.arange(_KEYS) % 12] * 12 + np.arange(_KEYS) % 12
    rare &= home[np.arange(len(parts))[:, None], np.minimum(usual, _KEYS - 1)] > 0
    low = (home > 0).argmax(axis=1)
    high = _KEYS - 1 - (home[:, ::-1] > 0).argmax(axis=1)
    return _Octaves(np.where(rare[line, pitch], usual[line, pitch], pitch), low[line], high[line])
