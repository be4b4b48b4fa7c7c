"""Does a bass note come back: at its place under its chord, or wherever that chord returns?

A *figure* is one pitch class of a bass part under one chord root: all notes of it in the song.
Repetition is evidence in both directions: what its copies have is meant more likely, and what all
of them have and nothing supports is a mistake that was pasted with its loop.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import bar_and_place, words
from basslint.util.columns import distinct, ends_of, kinds_of, turns
from basslint.util.records import record

_PLACES = 4  # places in a quarter: copies start on the same sixteenth
_SOUNDS = 0.3  # share of a note for which a tone must sound to belong to the harmony under it
_AGREE = 0.8  # share of the other notes on a place from which they say one thing
_MOST_PLACES = 1024  # sixteenths of a bar that are told apart; longer bars share the last one
_MOST_AGAIN = 4.0  # repeats in a bar that are counted; a fifth says no more


@record(eq=False, kw_only=True)
class Figures:
    """The figures of a song, numbered from 0.

    ``of`` int64 [m]: figure of each bass note, −1 where no root is told. ``bars`` int64 [f]: in how
    many bars a figure has notes. ``places`` float64 [f]: share of its notes on its most usual place
    in the bar.
    """

    of: NDArray[np.int64]
    bars: NDArray[np.int64]
    places: NDArray[np.float64]


@reading("bass-note", unit="notes")
def copies_alike(chart: Chart) -> Column:
    """How many other notes stand on its place in a bar, under its chord, with its pitch class."""
    key, tone = places_in_loop(chart), tones(chart)
    return np.asarray(tones_on_places(chart)[key, tone] - 1, dtype=np.float64)


@reading("bass-note", unit="yes or no")
def semitone_in_copies(chart: Chart) -> Column:
    """Does the bass elsewhere play a semitone beside it on its place, under its chord?"""
    key, tone, count = places_in_loop(chart), tones(chart), tones_on_places(chart)
    return np.asarray(count[key, (tone + 1) % 12] + count[key, (tone - 1) % 12] > 0)


@reading("bass-note", unit="notes")
def copies_otherwise(chart: Chart) -> Column:
    """How many other notes on its place in a bar, under its chord, agree on another pitch class.

    0 where a note there has its own, or where one in five or more goes a way of its own.
    """
    key, table = places_in_loop(chart), tones_on_places(chart)
    most, whole = table.max(axis=1)[key], table.sum(axis=1)[key] - 1
    agree = (table[key, tones(chart)] == 1) & (whole > 0) & (most > _AGREE * whole)
    return np.where(agree, most, 0).astype(np.float64)


@reading("bass-note", unit="notes")
def struck_again(chart: Chart) -> Column:
    """How many other notes of its pitch class the bass has in its bar; more than 4 count as 4."""
    bar, _ = bar_and_place(chart, chart.bass.start, _PLACES)
    key = bar * 12 + tones(chart)
    return np.asarray(np.minimum(np.bincount(key, minlength=1)[key] - 1, _MOST_AGAIN))


@reading("bass-note", unit="bars")
def figure_bars(chart: Chart) -> Column:
    """In how many bars its part has its pitch class under this chord root, its own bar too."""
    found = figures(chart)
    return np.asarray(np.append(found.bars, 0)[found.of], dtype=np.float64)


@reading("bass-note", unit="share")
def usual_place(chart: Chart) -> Column:
    """Of the notes of its pitch class under this root: the share on their most usual place."""
    found = figures(chart)
    return np.append(found.places, np.nan)[found.of]


def numbered(*columns: NDArray[np.integer]) -> Column:
    """A number from 0 for each row of some columns [n], the same for rows that agree in all."""
    order = np.lexsort(columns)
    new = np.zeros(len(order), dtype=np.int64)
    for column in columns:
        new[1:] |= column[order[1:]] != column[order[:-1]]
    number = np.zeros(len(order))
    number[order] = np.cumsum(new)
    return number


def how_often(figure: Column) -> NDArray[np.int64]:
    """How many rows share the figure of each row, [n]; ``figure`` as `numbered` gives it."""
    number = figure.astype(np.int64)
    return np.asarray(np.bincount(number, minlength=1)[number])


def times_alike(figure: Column, before: str = " ") -> Column:
    """How often the figure of each row comes, in words after ``before``; nothing for once."""
    return words([f"{before}{n} times alike" if n > 1 else "" for n in how_often(figure).tolist()])


@once_per_chart
def figures(chart: Chart) -> Figures:
    """The figures of the song, see `Figures`."""
    bass, root = chart.bass, root_of_chord(chart)
    known = (root >= 0).nonzero()[0]
    of = np.full(len(bass), -1, dtype=np.int64)
    key = (bass.part[known].astype(np.int64) * 12 + root[known]) * 12 + tones(chart)[known]
    kinds, of[known] = kinds_of(key)
    bar, place = bar_and_place(chart, bass.start[known], _PLACES)
    figure, most = of[known], len(kinds)
    in_bars = distinct(figure * (chart.song.grid.bars + 1) + bar) // (chart.song.grid.bars + 1)
    spot = np.sort(figure * _MOST_PLACES + np.minimum(place, _MOST_PLACES - 1))
    first = turns(spot).nonzero()[0]  # of each figure on each place
    often = np.zeros(most)
    np.maximum.at(often, spot[first] // _MOST_PLACES, ends_of(first, len(spot)) - first)
    size = np.bincount(figure, minlength=most)
    return Figures(
        of=of,
        bars=np.bincount(in_bars, minlength=most).astype(np.int64),
        places=often / np.maximum(size, 1),
    )


@once_per_chart
def places_in_loop(chart: Chart) -> NDArray[np.int64]:
    """A number for each place in the bar under each chord, or what sounds where none is told."""
    root = root_of_chord(chart)
    untold = (root < 0).nonzero()[0]
    heard = chart.accompaniment.share[untold] > _SOUNDS
    harmony = root.copy()
    harmony[untold] = 12 + (heard * (1 << np.arange(12))).sum(axis=1)
    _, place = bar_and_place(chart, chart.bass.start, _PLACES)
    key = harmony * _MOST_PLACES + np.minimum(place, _MOST_PLACES - 1)
    return kinds_of(key)[1]


@once_per_chart
def tones_on_places(chart: Chart) -> NDArray[np.int64]:
    """How many bass notes of each pitch class stand on each of `places_in_loop`, [places, 12]."""
    key = places_in_loop(chart)
    count = np.bincount(key * 12 + tones(chart), minlength=12 * (int(key.max(initial=0)) + 1))
    return count.reshape(-1, 12)


@once_per_chart
def tones(chart: Chart) -> NDArray[np.int64]:
    """Pitch class of each bass note, [m]."""
    return chart.bass.pitch.astype(np.int64) % 12


@once_per_chart
def root_of_chord(chart: Chart) -> NDArray[np.int64]:
    """Root of the chord of each bass note, [m]; −1 where none is told."""
    row = chart.bass_chords
    if not len(chart.roots):
        return np.full(len(row), -1, dtype=np.int64)
    return np.where(row >= 0, chart.roots.root[np.maximum(row, 0)], -1).astype(np.int64)
