"""Does the bass change its root when the harmony does?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.against_harmony import in_chord
from basslint.readings.base import Column, reading
from basslint.readings.harmony_shares import share_sounded
from basslint.readings.notes import bar_and_place, beats_in_words, named

_WITH_IT = 0.5  # share of the time it is early for which others sound its tone: they come with it
_PLACES = 4  # places in a quarter: a riff comes round on the same sixteenth
_RIFF = 2  # other times under the old chord alone: once may be chance
_SEVENTH = 10  # semitones over the new root: a tone of the old chord that makes a seventh of it


@reading("bass-note", unit="quarters")
def change_lag(chart: Chart) -> Column:
    """How long it keeps the old root after the harmony has changed; negative: has the new early.

    Told where bass and harmony go to the same root: positive on the bass note that stays on the old
    root, or on a tone that the old chord has and the new one has not; negative on the note that
    comes too early and is held on. The bass may have left the old root for another note of its
    chord meanwhile. A chord struck off the beat changes on it (`Roots.since`). No early note is
    told with which others come: half of that time they sound its tone, which the old chord has not.
    Nor one that a riff brings there anyway: twice and oftener where the old chord just goes on.
    Quarters, not beats of the meter: a push is an eighth in 12/8 as in 4/4.
    """
    return _changes(chart)[0]


@reading("bass-note", unit="share")
def change_certainty(chart: Chart) -> Column:
    """How sure the less sure of the two chords is at whose change it is late or early.

    Cannot be told where it is neither.
    """
    _, change = _changes(chart)
    certainty = np.append(chart.roots.certainty, np.nan)
    return np.where(change > 0, np.minimum(certainty[change], certainty[change - 1]), np.nan)


@reading("bass-note", unit="yes or no")
def tone_of_both(chart: Chart) -> Column:
    """Is it a tone of the chord before and of the one after the change it is late or early for?"""
    _, change = _changes(chart)
    rows = (change > 0).nonzero()[0]
    column, roots = np.zeros(len(change), dtype=bool), chart.roots
    old, new, tone = change[rows] - 1, change[rows], chart.bass.pitch[rows] % 12
    column[rows] = roots.tones[old, (tone - roots.root[old]) % 12]
    column[rows] &= roots.tones[new, (tone - roots.root[new]) % 12]
    return column


@once_per_chart
def _changes(chart: Chart) -> tuple[Column, NDArray[np.intp]]:
    """The lag of each bass note, and the row of the roots that it is late or early for, else 0."""
    lag, change = np.full(len(chart.bass), np.nan), np.zeros(len(chart.bass), dtype=np.intp)
    for part in chart.bass.parts:
        _lags_of(chart, (chart.bass.part == part).nonzero()[0], lag, change)
    _not_alone(chart, lag, change)
    return lag, change


def _not_alone(chart: Chart, lag: Column, change: NDArray[np.intp]) -> None:
    """Take out early notes with which others come.

    They sound its tone, foreign to the old chord, till the change; or the new chord is rolled: one
    of its tones is struck with the note and held on into it; or a riff asks for it.
    """
    rows = ((change > 0) & (lag < 0)).nonzero()[0]
    if not len(rows):
        return
    bass, roots = chart.bass, chart.roots
    tone, old = bass.pitch[rows].astype(np.int64) % 12, change[rows] - 1
    foreign = ~roots.tones[old, (tone - roots.root[old]) % 12]
    since, others = roots.since[change[rows]], ("harmony", "melody")
    come_too = share_sounded(chart, tone, bass.start[rows], since, others) >= _WITH_IT
    alike = (foreign & come_too) | _rolled(chart, rows, change[rows]) | _in_riff(chart, rows, old)
    lag[rows[alike]], change[rows[alike]] = np.nan, 0


def _in_riff(chart: Chart, rows: NDArray[np.intp], old: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether the part of each early note plays its tone there under the old root in other bars.

    In bars that are no copies of its own: those whose chord does not go on to that tone. Then the
    riff asks for it, and not the change.
    """
    bass, roots = chart.bass, chart.roots
    _, place = bar_and_place(chart, bass.start, _PLACES)
    under = np.append(roots.root, -1)[chart.bass_chords]  # −1, no chord: the last one
    last = roots.start.searchsorted(bass.end - 1, side="right") - 1
    goes_on = np.append(roots.root, -1)[last] == under
    tone, column = bass.pitch % 12, np.zeros(len(rows), dtype=bool)
    for i, (row, chord) in enumerate(zip(rows.tolist(), old.tolist(), strict=True)):
        again = goes_on & (bass.part == bass.part[row]) & (place == place[row])
        again &= (tone == tone[row]) & (under == roots.root[chord])
        column[i] = np.count_nonzero(again) >= _RIFF
    return column


def _rolled(chart: Chart, rows: NDArray[np.intp], change: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether harmony strikes a tone of the chord of ``change`` with each bass note, and holds it.

    Beyond the change, for half of the way from it at least.
    """
    song, bass, roots = chart.song, chart.bass, chart.roots
    harmony = song.notes.take(song.rows_of(chart.parts.harmony))
    near = song.division // 8
    column = np.zeros(len(rows), dtype=bool)
    for i, (row, to) in enumerate(zip(rows.tolist(), change.tolist(), strict=True)):
        start, since = bass.start[row], roots.since[to]
        low, high = harmony.start.searchsorted((start - near, start + near + 1))
        held = harmony.end[low:high] > since + (since - start) // 2
        tone = (harmony.pitch[low:high].astype(np.int64) - int(roots.root[to])) % 12
        column[i] = bool(np.count_nonzero(held & roots.tones[to, tone]))
    return column


def _lags_of(
    chart: Chart, rows: NDArray[np.intp], lag: Column, change_of: NDArray[np.intp]
) -> None:
    """Fill in the lags and the changes of the notes of one part."""
    bass, roots, near = chart.bass, chart.roots, chart.song.division // 8
    both = (roots.root[1:] >= 0) & (roots.root[:-1] >= 0)
    change = 1 + (both & (roots.root[1:] != roots.root[:-1])).nonzero()[0]
    place = bass.start[rows].searchsorted(roots.start[change]) - 1
    now = rows[place]  # the last note that starts before the change, if any does
    sounds = (place >= 0) & (bass.end[now] > roots.start[change])
    if not np.count_nonzero(sounds):  # else a note that is late or early sounds on over its change
        return
    change, place, now = change[sounds], place[sounds], now[sounds]
    at, old, new = roots.start[change], roots.root[change - 1], roots.root[change]
    tone = bass.pitch[now] % 12

    after = rows[np.minimum(place + 1, len(rows) - 1)]
    stays = tone == old
    if not stays.all():  # or on a tone of the old chord alone that was played to it
        alone = at - bass.start[now] >= chart.song.division
        alone |= chart.bass_chords[now] == change - 1
        alone &= roots.tones[change - 1, (tone - old) % 12]
        alone &= ~roots.tones[change, (tone - new) % 12] & ((tone - new) % 12 != _SEVENTH)
        stays |= alone
    late = stays & (bass.pitch[after] % 12 == new)
    late &= (bass.start[after] >= at) & (bass.start[after] < roots.end[change])
    until = np.minimum(bass.start[after], bass.end[now])
    lag[now[late]] = (until[late] - at[late]) / chart.song.division
    change_of[now[late]] = change[late]

    came = (tone == new) & (tone != old)
    if not np.count_nonzero(came):  # else none is early
        return
    before = rows[np.maximum(place - 1, 0)]
    chord = chart.bass_chords[rows]
    has_root = np.zeros(len(roots) + 1, dtype=bool)  # −1, no chord: the last one
    has_root[chord[bass.pitch[rows] % 12 == roots.root[chord]]] = True
    has_root[-1] = False
    # from the old root, or from another tone of its chord to a note that is none
    left = bass.pitch[before] % 12 == old
    foreign = ~roots.tones[change - 1, (tone - old) % 12]
    crosses = bass.end[now] > at + near  # what ends at the change was meant for the chord before
    early = crosses & came & (before != now)
    early &= bass.start[before] >= roots.since[change - 1] - near
    since = roots.since[change]
    early &= since - bass.start[now] > near  # a hair early is on time, and may be late for the next
    foreign &= has_root[change - 1]
    if np.count_nonzero(early & foreign & ~left):  # else nobody needs to hear what the chord holds
        left |= foreign & np.asarray(in_chord(chart))[before]
    early &= left
    lag[now[early]] = (bass.start[now[early]] - since[early]) / chart.song.division
    change_of[now[early]] = change[early]


@reading("bass-note", unit="text")
def lag_in_words(chart: Chart) -> Column:
    """How long it is late or early at the change of chord, in words, such as 1.5 beats."""
    grid = chart.song.grid
    unit = 4 / grid.denominator[grid.bar_of(chart.bass.start)]
    return named(np.abs(change_lag(chart)) / unit, beats_in_words)
