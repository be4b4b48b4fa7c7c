"""How does a bass note stand in its line: how accented, and does it lead on by step?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.accompaniment import support_gap, supported
from basslint.readings.base import Column, reading
from basslint.readings.notes import before_in_part, length
from basslint.util.columns import distinct

ON_BEAT = 0.1  # beats: as far from a beat, by hand, a note still starts on it
_STEP = 2  # semitones: a whole tone
_OCTAVE, _TRITONE = 12, 6  # semitones
_REST = 1.1  # quarters: across a longer rest a line begins anew
_CARRIED = 0.3  # share of a note for which others must sound its pitch class to carry it
_MOST_BEATS = 2.0  # beats of a note that count as its share of a bar
_LEAST_BEATS = 0.5  # beats added to a bar's length, so that one short note does not speak for it


@reading("bass-note", unit="levels", source="Lerdahl and Jackendoff 1983: metrical structure")
def accent(chart: Chart) -> Column:
    """How strong its place in the bar is: 3 on the bar line, 2 mid-bar, 1 a beat, 0 off it."""
    beat = chart.song.grid.beat_of(chart.bass.start)
    count = chart.song.grid.numerator[chart.song.grid.bar_of(chart.bass.start)]
    near = np.rint(beat)
    middle = (count % 2 == 0) & (near == count // 2 + 1)
    level = np.where(near == 1, 3.0, np.where(middle, 2.0, 1.0))
    return np.where(np.abs(beat - near) > ON_BEAT, 0.0, level)


@reading("bass-note", unit="share", source="Open Music Theory: passing and approach notes")
def leads_on(chart: Chart) -> Column:
    """Does it lead by step into the next note: 1 into one that others play, too; 0.5 any; 0 no."""
    bass, after = chart.bass, after_in_part(chart)
    at = np.maximum(after, 0)
    way = np.abs(bass.pitch[at].astype(np.int64) - bass.pitch)
    rest = (bass.start[at] - bass.end) / chart.song.division
    steps = (after >= 0) & (way >= 1) & (way <= _STEP) & (rest < _REST)
    return np.where(steps, np.where(supported(chart)[at] > _CARRIED, 1.0, 0.5), 0.0)


@reading("bass-note", unit="share")
def bar_unsupported(chart: Chart) -> Column:
    """Share of the rest of the bass in its bar whose pitch class nobody else plays there."""
    bar = chart.song.grid.bar_of(chart.bass.start)
    weight = np.minimum(length(chart), _MOST_BEATS)
    alone = weight * (support_gap(chart) > 0)
    whole = np.bincount(bar, weights=weight, minlength=1)[bar] - weight
    foreign = np.bincount(bar, weights=alone, minlength=1)[bar] - alone
    return np.asarray(np.maximum(foreign, 0.0) / (whole + _LEAST_BEATS))


@reading("bass-note", unit="pairs", source="Open Music Theory: approach notes, enclosures")
def led_alike(chart: Chart) -> Column:
    """How many other pairs of tones its part leads alike, by a semitone to where nobody leads it.

    A bass player's habit: a note that no other part plays leads by a semitone into the next, or
    stands with the next on both sides of the one after, its goal. Counted are the different pairs
    of such a tone and its goal in its part but for its own, so that a slip pasted with its loop
    makes no habit. 0 for a note that leads so nowhere.
    """
    bass, after = chart.bass, after_in_part(chart)
    tone = bass.pitch.astype(np.int64) % 12
    at = np.maximum(after, 0)
    then = np.where(after >= 0, after[at], -1)
    goal = np.maximum(then, 0)
    linked = (after >= 0) & _connected(chart, np.arange(len(bass)), at)
    semitone = linked & (np.abs(_way(tone, tone[at])) == 1)
    from_, beside = _way(tone, tone[goal]), _way(tone[at], tone[goal])
    round_ = linked & (then >= 0) & _connected(chart, at, goal)
    round_ &= (from_ * beside < 0) & (np.abs(from_) <= _STEP) & (np.abs(beside) <= _STEP)
    to = np.where(semitone, tone[at], tone[goal])
    leads = (semitone | round_) & (support_gap(chart) > 0)
    rows = leads.nonzero()[0]
    key = (bass.part[rows].astype(np.int64) * 12 + tone[rows]) * 12 + to[rows]
    pairs = distinct(key)
    count = np.bincount(pairs // 144, minlength=1)
    column = np.zeros(len(bass))
    column[rows] = count[bass.part[rows]] - 1
    return column


def _way(tone: NDArray[np.int64], to: NDArray[np.int64]) -> NDArray[np.int64]:
    """The shorter way from pitch class to pitch class, −6 to 5 semitones."""
    return np.asarray((to - tone + _TRITONE) % _OCTAVE - _TRITONE)


def _connected(chart: Chart, row: NDArray[np.intp], after: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Does a note follow another without a longer rest than a line allows?"""
    bass = chart.bass
    return np.asarray((bass.start[after] - bass.end[row]) / chart.song.division < _REST)


@once_per_chart
def after_in_part(chart: Chart) -> NDArray[np.intp]:
    """The row of the next note of each note's part, [m]; −1 where there is none."""
    last = before_in_part(chart.bass)
    after = np.full(len(last), -1, dtype=np.intp)
    rows = (last >= 0).nonzero()[0]
    after[last[rows]] = rows
    return after
