"""Is a foreign bass note written on purpose: does it come back, does it make a chord of its own?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.functions import FUNCTIONS
from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP
from basslint.hear.memo import once_per_chart
from basslint.readings.against_harmony import in_chord, semitones_above_root
from basslint.readings.against_parts import rub_row
from basslint.readings.bare_roots import stated_tones
from basslint.readings.base import Column, reading
from basslint.readings.harmony_shares import harmony_shares
from basslint.readings.notes import bar_and_place, bass_spellings, words
from basslint.theory.chords import EXTENDED_SUFFIXES, SUFFIXES, TONES
from basslint.theory.names import SPELLINGS
from basslint.util.columns import distinct, found_in

_PLACES = 4  # places in a quarter: a figure comes back on the same sixteenth
_SOUNDS = 0.5  # share of a note for which a tone of the harmony must sound to colour it, and
# chance from which one belongs to a chord that is stated by its root

# Chords on the bass note as root, semitones above it; Open Music Theory. Keys that leave the root
# to the bass play the upper tones alone: G#–B–D–F# over E is E9. Ninth chords may leave out their
# third, and chords of the seventh and more their fifth.
_NAMED = (
    "major", "minor", "dominant-7", "minor-7", "major-7", "half-diminished",
    "suspended-2", "suspended-4",
)  # fmt: skip
_HEARD = {TONES[quality]: SUFFIXES[quality] for quality in _NAMED} | EXTENDED_SUFFIXES
_BY_MASK = {sum(1 << tone for tone in tones): name for tones, name in _HEARD.items()}
_IS_CHORD = found_in(np.arange(1 << 12), list(_BY_MASK))


@reading("bass-note", unit="bars")
def copies(chart: Chart) -> Column:
    """In how many bars the bass plays the same foreign tone at this place, its own bar too.

    The same means the same interval to the root, or the same pitch class; foreign, that it is no
    tone of its chord and no pattern or step explains it. A figure that returns with its loop was
    written so; a slip stands alone.
    """
    return _figures(chart)[0]


@reading("bass-note", unit="number")
def foreign_figure(chart: Chart) -> Column:
    """The number of the figure it belongs to: equal for notes that `copies` counts together."""
    return _figures(chart)[1].astype(np.float64)


@reading("bass-note", unit="bars")
def rub_copies(chart: Chart) -> Column:
    """In how many of the bars that `copies` counts it rubs with the same pitch class, too.

    The bass figure may come back while what it rubs with comes but once.
    """
    bass, grid, met = chart.bass, chart.song.grid, rub_row(chart)
    rows = ((met >= 0) & (copies(chart) > 1)).nonzero()[0]
    count = np.ones(len(bass))
    if not len(rows):
        return count
    bar, place = bar_and_place(chart, bass.start[rows], _PLACES)
    rub = bass.pitch[rows] % 12 * 12 + chart.notes.pitch[met[rows]] % 12
    once = distinct((place * 144 + rub) * (grid.bars + 1) + bar)
    kinds, bars = np.unique(once // (grid.bars + 1), return_counts=True)
    count[rows] = bars[np.searchsorted(kinds, place * 144 + rub)]
    return count


@once_per_chart
def _figures(chart: Chart) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Copies of each bass note and the number of their figure, [m] each; below 0 for one alone."""
    bass, grid = chart.bass, chart.song.grid
    above = semitones_above_root(chart)
    count, number = np.ones(len(bass)), -1 - np.arange(len(bass))
    foreign = (chart.functions == FUNCTIONS.index("other")) & ~np.asarray(in_chord(chart))
    rows = (foreign & ~np.isnan(above)).nonzero()[0]
    if not len(rows):
        return count, number
    bar, place = bar_and_place(chart, bass.start[rows], _PLACES)
    # an interval says nothing where the root is a guess: those notes are each a figure of their own
    guess = chart.roots.certainty[chart.bass_chords[rows]] < CERTAIN
    interval = np.where(guess, 12 + np.arange(len(rows)), above[rows].astype(np.int64))
    for kind, tone in enumerate((interval, bass.pitch[rows].astype(np.int64) % 12)):
        figure = place * (12 + len(rows)) + tone
        once = distinct(figure * (grid.bars + 1) + bar)
        kinds, bars = np.unique(once // (grid.bars + 1), return_counts=True)
        copies = bars[np.searchsorted(kinds, figure)]
        more = copies > count[rows]
        count[rows[more]], number[rows[more]] = copies[more], 2 * figure[more] + kind
    return count, number


@reading(
    "bass-note", unit="text", source="harmony, common practice: triads and chords of the seventh"
)
def heard_as(chart: Chart) -> Column:
    """The common chord that it makes, as the root, with what the harmony sounds over it.

    C under G, B and D# is Cm(maj7): the chord is heard from the bass up.
    """
    tone = chart.bass.pitch % 12
    spelled = bass_spellings(chart)
    names: list[str | None] = []
    for key, step, by in zip(
        _tones_above(chart).tolist(), tone.tolist(), spelled.tolist(), strict=True
    ):
        kind = _BY_MASK.get(key)
        names.append(None if kind is None else SPELLINGS[by][step] + kind)
    return words(names)


@reading(
    "bass-note",
    unit="yes or no",
    source="harmony, common practice: triads and chords of the seventh",
)
def makes_chord(chart: Chart) -> Column:
    """Does it make a common chord, as its root, with what the harmony sounds over it?"""
    return _IS_CHORD[_tones_above(chart)]


def chord_with(chart: Chart, sounds: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Whether each bass note makes a common chord, as its root, with pitch classes [m, 12]."""
    return np.asarray(_IS_CHORD[_above(chart, sounds)])


def claimed(chart: Chart) -> NDArray[np.bool_]:
    """Pitch classes that the chord heard in a loop under each bass note holds, [m, 12]."""
    roots, row = chart.roots, chart.bass_chords
    told = (roots.source == LOOP) & (roots.root >= 0) & (roots.certainty >= _SOUNDS)
    chord = np.maximum(row, 0)
    of_root = (np.arange(12) - np.append(roots.root, 0)[chord].astype(np.int64)[:, None]) % 12
    held = np.append(roots.tones, np.zeros((1, 12), dtype=bool), axis=0)[chord]
    sure = np.append(told, False)[row]  # −1: no chord, the last one
    return np.asarray(sure[:, None] & np.take_along_axis(held, of_root, axis=1))


@once_per_chart
def _tones_above(chart: Chart) -> NDArray[np.int64]:
    """What the harmony sounds over each bass note for half of it or more, or is stated to, [m].

    A bit for each semitone above the note, the note's own always set. Over a root that is stated
    alone a tone counts that is likelier than not. A loop of sound is heard twice, as tones and as a
    chord, and neither is all: of both together, the chord, and the tones, the first counts that
    makes a common chord on the note.
    """
    sounds = (harmony_shares(chart) >= _SOUNDS) | stated_tones(chart, _SOUNDS)
    if chart.loops is None:
        return _above(chart, sounds)
    chord = claimed(chart)
    first, *others = (_above(chart, tones) for tones in (sounds | chord, chord, sounds))
    for other in others:
        first = np.where(_IS_CHORD[first], first, np.where(_IS_CHORD[other], other, first))
    return first


def _above(chart: Chart, sounds: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Pitch classes that sound over each bass note, [m, 12], as bits of semitones above it, [m]."""
    step = (np.arange(12)[None, :] - (chart.bass.pitch % 12)[:, None]) % 12
    return np.asarray(np.where(sounds, 1 << step, 0).sum(axis=1) | 1)
