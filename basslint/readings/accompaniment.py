"""Does another part play a bass note's pitch class, or one that rubs against it?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.cover import sounding_clock
from basslint.hear.harmony.roots import CERTAIN
from basslint.readings.base import Column, reading
from basslint.song.arrangement import Notes
from basslint.util.columns import order_of

SILENT = "no harmony sounds here"  # why nothing is told of a note
_ONE_VOICE = 1.2  # voices at a time: a tune, or a broken chord, and a little overlap
_BESIDE = 1.0  # quarters: so near a tone is still in the ear


@reading("bass-note", unit="share")
def supported(chart: Chart) -> Column:
    """Share of it during which another part, no bass, sounds its pitch class in any octave."""
    return chart.accompaniment.at(0, chart.bass.pitch.astype(np.int64))


@reading("bass-note", unit="quarters")
def support_gap(chart: Chart) -> Column:
    """How far the nearest time is at which another part sounds its pitch class; at most 32."""
    return chart.accompaniment.gap


@reading("bass-note", unit="nearness", source="common practice: a chord is heard on after it ends")
def heard_near(chart: Chart) -> Column:
    """How near another part sounds its pitch class: 1 with it, 0.5 a quarter away, less farther."""
    return np.asarray(1.0 / (1.0 + support_gap(chart)))


@reading("bass-note", unit="yes or no", source="common practice, no source")
def rubs_without_it(chart: Chart) -> Column:
    """Do the other parts rub so by themselves, its pitch class within a quarter beside the other?

    A tone of the harmony that rubs with the tune rubs with it whether the bass plays it or not.
    """
    return np.asarray((rub_share(chart) > 0) & (support_gap(chart) <= _BESIDE))


@reading("bass-note", unit="share", source="Plomp and Levelt, JASA 38 (1965): roughness")
def rub_share(chart: Chart) -> Column:
    """Share of it during which another part sounds a semitone from it, in any octave."""
    return np.minimum(chart.accompaniment.beside(chart.bass.pitch.astype(np.int64)), 1.0)


@reading("bass-note", unit="yes or no")
def stands_alone(chart: Chart) -> Column:
    """Does no other part but basses and drums sound while it does?"""
    return np.asarray(chart.accompaniment.share.max(axis=1, initial=0.0) <= 0.0)


@reading("bass-note", unit="pitch classes")
def tones_around(chart: Chart) -> Column:
    """How many pitch classes the harmony has in its bar; 1 for a tune whose chords are a guess."""
    around, row = chart.accompaniment, np.maximum(chart.bass_chords, 0)
    sure = (chart.bass_chords >= 0) & (
        np.concatenate((chart.roots.certainty, (0.0,)))[row] >= CERTAIN
    )
    guess = (around.voices < _ONE_VOICE) & ~sure
    return np.where(guess, np.minimum(around.tones, 1), around.tones).astype(np.float64)


@reading("bass-note", unit="share")
def tone_in_song(chart: Chart) -> Column:
    """Share of the other parts' sounding time in the whole song that its pitch class has."""
    return chart.accompaniment.time[chart.bass.pitch % 12]


@reading("bass-note", unit="share")
def octave_above(chart: Chart) -> Column:
    """Share of it during which any pitched part sounds the same note one octave up."""
    return _sounded(chart.bass, chart.pitched, 12)


@reading("bass-note", unit="share")
def same_octave_elsewhere(chart: Chart) -> Column:
    """Share of it during which a pitched part that is no bass sounds the same note, as low."""
    song, aside = chart.song, {*chart.parts.drums, *chart.parts.bass}
    others = song.rows_of([part for part in range(len(song.parts)) if part not in aside])
    return _sounded(chart.bass, song.notes.take(others), 0)


def _sounded(bass: Notes, notes: Notes, up: int) -> NDArray[np.float64]:
    """Share of each bass note during which some notes sound it, so many semitones up, [m]."""
    if not len(notes) or not len(bass):
        return np.zeros(len(bass))
    # a time line for each pitch, one after the other: one search serves all of them
    line = int(max(notes.end.max(), bass.end.max())) + 1
    notes = notes.take(order_of(notes.pitch))
    at = notes.pitch.astype(np.int64) * line
    clock = sounding_clock(at + notes.start, at + np.maximum(notes.end, notes.start + 1))
    until = np.maximum(bass.end, bass.start + 1)
    above = (bass.pitch.astype(np.int64) + up) * line
    return np.asarray((clock(above + until) - clock(above + bass.start)) / (until - bass.start))
