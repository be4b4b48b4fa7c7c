"""Which other note does a bass note meet: one of another bass, or one that it rubs against?"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.accompaniment import rub_share
from basslint.readings.base import Column, reading
from basslint.readings.notes import beats, beats_in_words, named, note_names, words
from basslint.util.columns import distinct, found_in, order_of, turns, within
from basslint.util.records import record


@reading("bass-note", unit="beats")
def other_bass_beats(chart: Chart) -> Column:
    """How long another bass part, one that leads it, sounds a different note under it, in beats.

    Layers of one instrument (the channels of one MPE track) are one part. Octaves do not count, nor
    does a note that the other part sounds as long: what it meets there is that part's own overlap.
    Nor a tone that both strike and it holds, a pedal, while the leading one goes through two other
    tones and more; nor either where one of the two holds such a tone and the other its fifth.
    """
    return _other_bass(chart).beats


@reading("bass-note", unit="text")
def other_bass_words(chart: Chart) -> Column:
    """How long another bass part sounds a different note under it, in words, such as 2 beats."""
    return named(other_bass_beats(chart), beats_in_words)


@reading("bass-note", unit="text")
def other_bass_note(chart: Chart) -> Column:
    """The note that the other bass part sounds at that time."""
    return _names_of(chart, _other_bass(chart).row)


@reading("bass-note", unit="text")
def other_bass_part(chart: Chart) -> Column:
    """The name of the other bass part."""
    return _parts_of(chart, _other_bass(chart).row)


@reading("bass-note", unit="share", source="common practice")
def doubled_share(chart: Chart) -> Column:
    """Of its part's notes that sound with a leading bass, how many are the same note, 0 to 1.

    Octaves are; which of two meetings counts is told by the longer one. NaN where none sounds.
    """
    other, double = _other_bass(chart), _double(chart)
    part, heard = chart.bass.part, (other.beats > 0) | (double.beats > 0)
    size = int(part.max(initial=-1)) + 1
    all_heard = np.bincount(part[heard], minlength=size)
    same = np.bincount(part[heard & (double.beats >= other.beats)], minlength=size)
    with np.errstate(invalid="ignore"):
        share: Column = (same / all_heard)[part]
    return share


@reading("bass-note", unit="yes or no")
def carried_below(chart: Chart) -> Column:
    """Does another bass part sound the same note octaves below it, for half of it or more?"""
    bass = chart.bass
    return np.asarray(2.0 * _octave_below(chart).beats >= beats(chart, bass.start, bass.end))


@reading("bass-note", unit="beats")
def rub_beats(chart: Chart) -> Column:
    """How long it sounds a semitone, or octaves and a semitone, from a harmony or melody note."""
    return _rub(chart).beats


@reading("bass-note", unit="text")
def rub_words(chart: Chart) -> Column:
    """How long it rubs with a note a semitone away, in words, such as 2 beats."""
    return named(rub_beats(chart), beats_in_words)


@reading("bass-note", unit="text")
def rub_note(chart: Chart) -> Column:
    """The harmony or melody note a semitone away, in whatever octave."""
    return _names_of(chart, _rub(chart).row)


@reading("bass-note", unit="yes or no")
def rub_in_scale(chart: Chart) -> Column:
    """Is the note a semitone away one of the scale of the key in force?"""
    row, key = _rub(chart).row, chart.key_at(chart.bass.start)
    column = words([None] * len(row))
    known = (row >= 0) & (key >= 0)
    if np.count_nonzero(known):
        column[known] = chart.keys.scale[key[known], chart.notes.pitch[row[known]] % 12]
    return column


@reading("bass-note", unit="share")
def rub_tone_in_song(chart: Chart) -> Column:
    """Share of the other parts' sounding time in the song that the tone it rubs with has."""
    row = _rub(chart).row
    tone = chart.song.notes.pitch[np.maximum(row, 0)] % 12
    return np.where(row >= 0, chart.accompaniment.time[tone], np.nan)


@reading("bass-note", unit="text")
def rub_part(chart: Chart) -> Column:
    """The part that holds the note a semitone away."""
    return _parts_of(chart, _rub(chart).row)


@record(eq=False)
class Meeting:
    """For each bass note: longest meeting in beats [m]; row of song.notes met [m], −1 none."""

    beats: Column
    row: NDArray[np.intp]


def other_bass_row(chart: Chart) -> NDArray[np.intp]:
    """Row of song.notes of the leading bass note that sounds against each bass note, −1 none."""
    return _other_bass(chart).row


def rub_row(chart: Chart) -> NDArray[np.intp]:
    """Row of song.notes of the harmony or melody note that each bass note rubs with, −1 none."""
    return _rub(chart).row


@once_per_chart
def _other_bass(chart: Chart) -> Meeting:
    bass = chart.bass
    meeting, double = _none(len(bass)), _double(chart)
    for mine, others in _led(chart):
        _meet(chart, mine, others, meeting, lambda up: up % 12 != 0)
        met = mine[meeting.row[mine] >= 0]
        own = met[beats(chart, bass.start[met], bass.end[met]) - double.beats[met] <= _LET_GO]
        own = np.concatenate((own, met[_holds_under_line(chart, met, meeting, others)]))
        meeting.beats[own], meeting.row[own] = 0.0, -1
    return meeting


@once_per_chart
def _double(chart: Chart) -> Meeting:
    meeting = _none(len(chart.bass))
    for mine, others in _led(chart):
        _meet(chart, mine, others, meeting, lambda up: up % 12 == 0)
    return meeting


def _led(chart: Chart) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Of each bass part after the first: rows of its notes, and of song.notes of those that lead
    it. Layers of one instrument do not lead each other."""
    lines, group = chart.parts.bass, chart.parts.group
    for place, part in enumerate(lines[1:], start=1):  # none leads the first one
        leading = [p for p in lines[:place] if group[p] != group[part]]
        mine = (chart.bass.part == part).nonzero()[0]
        yield mine, found_in(chart.song.notes.part, leading).nonzero()[0]


def _holds_under_line(
    chart: Chart, met: NDArray[np.intp], meeting: Meeting, leading: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether both strike it and it is held under a line or a fifth, or it is such a fifth."""
    start, pitch = chart.notes.start, chart.notes.pitch.astype(np.int64)
    bass, near, other = chart.bass, chart.song.division // 8, meeting.row[met]
    up = (pitch[other] - bass.pitch[met]) % _TWELVE
    column = np.zeros(len(met), dtype=bool)
    for i, row in enumerate(met.tolist()):
        away = (pitch[leading] - bass.pitch[row]) % _TWELVE
        there = np.abs(start[leading] - bass.start[row]) <= near
        if (there & (away == 0)).any():
            inside = (start[leading] > bass.start[row]) & (start[leading] < bass.end[row] - near)
            column[i] = up[i] == _FIFTH or len(distinct(away[inside & (away > 0)])) >= _LINE
    for i in (up == _TWELVE - _FIFTH).nonzero()[0].tolist():
        there = (bass.part == bass.part[met[i]]) & (np.abs(bass.start - start[other[i]]) <= near)
        column[i] |= bool((there & ((pitch[other[i]] - bass.pitch) % _TWELVE == 0)).any())
    return column


@once_per_chart
def _octave_below(chart: Chart) -> Meeting:
    meeting = _none(len(chart.bass))
    for part in chart.parts.bass:
        mine = (chart.bass.part == part).nonzero()[0]
        others = chart.song.rows_of([p for p in chart.parts.bass if p != part])
        _meet(chart, mine, others, meeting, lambda up: (up < 0) & (up % 12 == 0))
    return meeting


@once_per_chart
def _rub(chart: Chart) -> Meeting:
    roles = np.array([r in ("harmony", "melody") for r in chart.parts.role], dtype=bool)
    meeting = _none(len(chart.bass))
    if np.count_nonzero(roles) and len(chart.bass):
        mine = (rub_share(chart) > 0).nonzero()[0]  # of all other parts: no more need be asked
        others = roles[chart.song.notes.part].nonzero()[0] if len(mine) else mine
        _meet(chart, mine, others, meeting, lambda up: np.abs(up) % 12 == 1)
    return meeting


def _meet(
    chart: Chart,
    mine: NDArray[np.intp],
    others: NDArray[np.intp],
    meeting: Meeting,
    counts: Callable[[NDArray[np.int64]], NDArray[np.bool_]],
) -> None:
    """Note the longest meeting of bass notes ``mine`` with song notes ``others``.

    ``counts`` tells from the semitones up to the other note whether the two meet at all.
    """
    bass, notes = chart.bass, chart.notes
    if not len(others) or not len(mine):
        return
    tones = np.arange(12)
    apart = tones[counts(tones) | counts(tones - 12)]
    tone = notes.pitch[others] % 12
    order = order_of(tone)
    others, tone = others[order], tone[order].astype(np.int64)
    # a time line for each pitch class, one after the other: all are searched at once
    until = notes.end[others]
    line = int(max(until.max(), bass.end.max())) + 1
    begin, reach = tone * line + notes.start[others], np.maximum.accumulate(tone * line + until)
    row = mine.repeat(len(apart))
    at = ((bass.pitch[mine][:, None] + apart) % 12).ravel() * line
    first = reach.searchsorted(at + bass.start[row], side="right")
    after = begin.searchsorted(at + bass.end[row], side="left")
    count = within(after - first, 0, _MOST_MET)
    row = row.repeat(count)
    nth = np.arange(len(row)) - (count.cumsum() - count).repeat(count)
    other = others[first.repeat(count) + nth]
    met = counts(notes.pitch[other].astype(np.int64) - bass.pitch[row])
    row, other = row[met], other[met]
    start = np.maximum(bass.start[row], notes.start[other])
    shared = beats(chart, start, np.minimum(bass.end[row], notes.end[other]))
    order = np.lexsort((other, -shared, row))
    best = order[turns(row[order])]
    best = best[shared[best] > meeting.beats[row[best]]]
    meeting.beats[row[best]] = shared[best]
    meeting.row[row[best]] = other[best]


_FIFTH, _TWELVE = 7, 12  # semitones
_LINE = 2  # other tones that the leading bass goes through over a note that both have struck
_LET_GO = 0.1  # beats: two hands that play one line let go so far apart
_MOST_MET = 32  # notes of one pitch class looked at during one bass note: the rest repeat them


def _none(count: int) -> Meeting:
    return Meeting(np.zeros(count), np.full(count, -1, dtype=np.intp))


def _names_of(chart: Chart, rows: NDArray[np.intp]) -> Column:
    column = words([None] * len(rows))
    met = (rows >= 0).nonzero()[0]
    column[met] = note_names(chart, chart.notes.take(rows[met]))
    return column


def _parts_of(chart: Chart, rows: NDArray[np.intp]) -> Column:
    names = [p.name for p in chart.song.parts]
    part = chart.song.notes.part
    return words([names[part[r]] if r >= 0 else None for r in rows.tolist()])
