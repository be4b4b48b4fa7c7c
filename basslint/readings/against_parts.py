"""What does a bass note meet in the other parts: the kick, another bass, a held note?"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.accompaniment import rub_share
from basslint.readings.base import Column, reading
from basslint.readings.notes import beats, beats_in_words, milliseconds, named, note_names, words
from basslint.theory.general_midi import DRUM_CHANNEL, KICKS, NO_KICKS
from basslint.util.columns import distinct, found_in, order_of
from basslint.util.records import record

_IS_KICK = found_in(np.arange(128), KICKS)
_NO_KICK = found_in(np.arange(128), NO_KICKS)
_KICK_NAMES = ("kick", "bass drum", "bassdrum", "bd")
_EARSHOT_MS = 100.0  # further from a kick than this, nobody hears the two as one hit
_OFTEN = 4  # hits that make a drum pitch a repeated one


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
    unstruck = np.zeros(len(chart.song.notes), dtype=bool)
    for hits in chart.fills.notes:
        unstruck[hits[1:]] = True
    slides = chart.slides
    unstruck[slides.note[(slides.overlap > 0) & (slides.note != slides.source_note)]] = True
    near &= ~unstruck[chart.bass_rows]
    return np.where(near, offset, np.nan)


@reading("bass-note", unit="ms")
def kick_gap(chart: Chart) -> Column:
    """How far the nearest kick is from its start, before or after; told as `kick_offset` is."""
    return np.abs(kick_offset(chart)).round(1)


@reading("bass-note", unit="text")
def kick_side(chart: Chart) -> Column:
    """Does it start before or after the nearest kick?"""
    return named(np.sign(kick_offset(chart)), lambda way: "after" if way > 0 else "before")


@reading("bass-note", unit="beats")
def other_bass_beats(chart: Chart) -> Column:
    """How long another bass part, one that leads it, sounds a different note under it, in beats.

    Layers of one instrument (the channels of one MPE track) are one part. Octaves do not count, nor
    does a note that the other part sounds as long: what it meets there is that part's own overlap.
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
    if known.any():
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
    bass, lines = chart.bass, chart.parts.bass
    meeting, double = _none(len(bass)), _none(len(bass))
    for place, part in enumerate(lines[1:], start=1):  # none leads the first one
        leading = [p for p in lines[:place] if chart.parts.group[p] != chart.parts.group[part]]
        others = found_in(chart.song.notes.part, leading).nonzero()[0]
        mine = (bass.part == part).nonzero()[0]
        _meet(chart, mine, others, meeting, lambda up: up % 12 != 0)
        met = mine[meeting.row[mine] >= 0]
        _meet(chart, met, others, double, lambda up: up % 12 == 0)
        own = met[beats(chart, bass.start[met], bass.end[met]) - double.beats[met] <= _LET_GO]
        meeting.beats[own], meeting.row[own] = 0.0, -1
    return meeting


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
    if roles.any() and len(chart.bass):
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
    others = others[order_of(notes.pitch[others] % 12)]
    # a time line for each pitch class, one after the other: all are searched at once
    line = int(max(notes.end.max(), bass.end.max())) + 1
    from_ = (notes.pitch[others] % 12).astype(np.int64) * line
    begin, reach = from_ + notes.start[others], np.maximum.accumulate(from_ + notes.end[others])
    row = np.repeat(mine, len(apart))
    at = (bass.pitch[row] + np.tile(apart, len(mine))) % 12 * line
    first = np.searchsorted(reach, at + bass.start[row], side="right")
    after = np.searchsorted(begin, at + bass.end[row], side="left")
    count = np.clip(after - first, 0, _MOST_MET)
    row = np.repeat(row, count)
    nth = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    other = others[np.repeat(first, count) + nth]
    met = counts(notes.pitch[other].astype(np.int64) - bass.pitch[row])
    row, other = row[met], other[met]
    start = np.maximum(bass.start[row], notes.start[other])
    shared = beats(chart, start, np.minimum(bass.end[row], notes.end[other]))
    order = np.lexsort((other, -shared, row))
    best = order[np.append(True, np.diff(row[order]) > 0)[: len(order)]]
    best = best[shared[best] > meeting.beats[row[best]]]
    meeting.beats[row[best]] = shared[best]
    meeting.row[row[best]] = other[best]


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


@once_per_chart
def kick_ticks(chart: Chart) -> NDArray[np.int64]:
    """Ticks of the kicks, rising and without repeats."""
    song, notes, drums = chart.song, chart.song.notes, chart.parts.drums
    named = [i for i in drums if _is_kick(song.parts[i].name)]
    if named:
        return distinct(notes.start[song.rows_of(named)])
    kit = song.rows_of([i for i in drums if song.parts[i].channel == DRUM_CHANNEL])
    found = kit[_IS_KICK[notes.pitch[kit]]]
    if not len(found):
        on_drums = kit[~_NO_KICK[notes.pitch[kit]]] if len(kit) else song.rows_of(drums)
        often = (np.bincount(notes.pitch[on_drums]) >= _OFTEN).nonzero()[0]
        if not len(often):
            return np.zeros(0, dtype=np.int64)
        found = on_drums[notes.pitch[on_drums] == often[0]]
    return distinct(notes.start[found])


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
