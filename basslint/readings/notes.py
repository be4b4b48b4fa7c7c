"""What is a bass note in itself: its pitch, length, loudness, place, and what came before it?"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.register import chance_of_low
from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.base import Column, reading, row_reading
from basslint.song.arrangement import Notes
from basslint.theory import tuning
from basslint.theory.acoustics import CARRIED_HZ
from basslint.theory.names import SHARPS, SPELLINGS, pitch_name, spelling
from basslint.util.columns import kinds_of, median, order_of

_MIDI = "MIDI 1.0 detailed specification"
_REGISTER = 0.9  # share of a part's notes that are at home in its register
_FEWEST_LOW = 3  # notes that few systems sound: fewer are slips
_LOW_SHARE = 0.5  # of a part's notes: whatever its register, most of it is not heard
# chance, under even odds, that a part lies an octave too low: 4 of 421 real songs pass it, and
# seven in ten of the same basses put an octave down
_SURELY_LOW = 0.88
_LOW_MIDDLE = 31  # G1: a part whose middle note lies above it has some low notes, and is not low
_AS_A_WHOLE = ": it lies an octave too low as a whole"
_REPEAT = 0.5  # quarters: the longest rest over which a struck-again pitch is still one stand


def words(values: Sequence[str | None]) -> Column:
    """A column of texts; None where there is nothing to name."""
    column = np.empty(len(values), dtype=object)
    column[:] = values
    return column


def named(values: NDArray[np.generic], name: Callable[[float], str | None]) -> Column:
    """A column of texts from numbers, each different number named once; NaN is named None."""
    numbers = values.tolist()
    names = {number: None if number != number else name(number) for number in set(numbers)}
    return words([names[number] for number in numbers])


def note_names(chart: Chart, notes: Notes) -> Column:
    """Names of notes such as ``F#1``, spelled by the key in force where they start."""
    spelled = spellings(chart, notes.start)
    kinds, which = kinds_of(spelled * 128 + notes.pitch)
    octave = chart.facts.middle_c
    return words([pitch_name(k % 128, SPELLINGS[k // 128], octave) for k in kinds.tolist()])[which]


def spellings(chart: Chart, tick: NDArray[np.int64]) -> NDArray[np.int64]:
    """Which of `SPELLINGS` the key in force at each tick has, [n]; sharps where none is told."""
    keys = chart.keys
    used = [spelling(int(t), m) for t, m in zip(keys.tonic, keys.mode, strict=True)]
    rows = [SPELLINGS.index(names) for names in [*used, SHARPS]]
    return np.array(rows, dtype=np.int64)[chart.key_at(tick)]  # −1: no key, the last one


@once_per_chart
def bass_spellings(chart: Chart) -> NDArray[np.int64]:
    """`spellings` of the bass notes, [m]."""
    return spellings(chart, chart.bass.start)


def beats(chart: Chart, start: NDArray[np.int64], end: NDArray[np.int64]) -> Column:
    """Lengths in beats of the meter in force at ``start``."""
    return np.asarray((end - start) / chart.song.grid.beat_ticks(start))


def beats_in_words(value: float) -> str:
    """``2 beats``, ``1 beat``, ``0.25 beats``."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return f"{text} beat" if text == "1" else f"{text} beats"


def bar_and_place(
    chart: Chart, tick: NDArray[np.int64], per_quarter: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Bar (from 0) of each tick and its place there, in steps of so many to a quarter note.

    What comes less than half a step before a bar line stands on it: its place is 0.
    """
    if tick is not chart.bass.start:
        return _bar_and_place(chart, tick, per_quarter)
    known = _of_bass(chart)
    if per_quarter not in known:
        known[per_quarter] = _bar_and_place(chart, tick, per_quarter)
    return known[per_quarter]


@once_per_chart
def _of_bass(chart: Chart) -> dict[int, tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Bars and places of the bass notes as far as they were asked for, by steps to a quarter."""
    return {}


def _bar_and_place(
    chart: Chart, tick: NDArray[np.int64], per_quarter: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    grid, step = chart.song.grid, chart.song.division / per_quarter
    bar = grid.bar_of(tick + int(step / 2))
    return bar, np.maximum(np.rint((tick - grid.start[bar]) / step).astype(np.int64), 0)


def milliseconds(chart: Chart, start: NDArray[np.int64], end: NDArray[np.int64]) -> Column:
    """Lengths in milliseconds."""
    tempo = chart.song.tempo
    return np.asarray((tempo.seconds(end) - tempo.seconds(start)) * 1000.0)


def part_names(chart: Chart, part: NDArray[np.integer]) -> Column:
    """Names of some parts (indexes into song.parts)."""
    return np.asarray(words([p.name for p in chart.song.parts])[part])


@once_per_chart
def part_by_part(chart: Chart) -> NDArray[np.intp]:
    """Rows of the bass part by part, each in order of time, [m]."""
    return order_of(chart.bass.part)


@once_per_chart
def felt_beats(chart: Chart) -> NDArray[np.int64]:
    """Ticks of the beat one taps to where each bass note starts, [m]."""
    grid = chart.song.grid
    return grid.felt_beat(grid.bar_of(chart.bass.start))


def before_in_part(notes: Notes) -> NDArray[np.intp]:
    """Row of the last note of the same part that starts earlier, [n]; −1 where there is none."""
    result = np.full(len(notes), -1, dtype=np.intp)
    for part in notes.parts:
        rows = (notes.part == part).nonzero()[0]
        start = notes.start[rows]
        place = np.searchsorted(start, start, side="left") - 1
        result[rows] = np.where(place >= 0, rows[np.maximum(place, 0)], -1)
    return result


@reading("bass-note", unit="MIDI number", source=_MIDI)
def pitch(chart: Chart) -> Column:
    """The pitch that it sounds, to the nearest MIDI number; 60 is middle C."""
    return chart.bass.pitch.astype(np.float64)


@reading("bass-note", unit="MIDI number", source=_MIDI)
def written_pitch(chart: Chart) -> Column:
    """The key as which it is written, whatever it sounds."""
    return chart.sounding.written.astype(np.float64)


@row_reading("bass-note", unit="text", source="scientific pitch notation")
def note_name(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """What it sounds, such as F#1; with the key where that differs, such as F#2 (written E2)."""
    names = note_names(chart, chart.bass.take(rows))
    other = chart.sounding.shift[rows].nonzero()[0]
    if len(other):
        keys = note_names(chart, chart.written.take(chart.bass_rows[rows[other]]))
        names[other] = [f"{n} (written {k})" for n, k in zip(names[other], keys, strict=True)]
    return names


@reading("bass-note", unit="Hz", source=tuning.SOURCE)
def frequency(chart: Chart) -> Column:
    """The frequency of its fundamental as it sounds."""
    return tuning.frequency(chart.sounding.pitch)


@reading("bass-note", unit="Hz", source=tuning.SOURCE)
def part_frequency(chart: Chart) -> Column:
    """The frequency of the middle one of all notes of its part (the median)."""
    column = np.full(len(chart.bass), np.nan)
    for part in chart.bass.parts:
        mine = chart.bass.part == part
        column[mine] = tuning.frequency(np.array([median(chart.bass.pitch[mine])]))[0]
    return column


@reading("bass-note", unit="text")
def low_as_a_whole(chart: Chart) -> Column:
    """That its part lies an octave too low as a whole, by its register; else nothing.

    Or since half of it or more lies under 30 Hz.
    """
    hertz, part = tuning.frequency(chart.bass.pitch), chart.bass.part
    low = np.bincount(part[hertz < CARRIED_HZ], minlength=len(chart.song.parts))
    whole = np.zeros(len(low), dtype=bool)
    for index in (low >= _FEWEST_LOW).nonzero()[0].tolist():
        mine = chart.bass.pitch[part == index]
        surely = chance_of_low(mine) > _SURELY_LOW and median(mine) <= _LOW_MIDDLE
        whole[index] = surely or low[index] >= _LOW_SHARE * len(mine)
    return words([_AS_A_WHOLE if w else "" for w in whole[part].tolist()])


@reading("bass-note", unit="semitones")
def above_register(chart: Chart) -> Column:
    """How far it lies above the top of its part's register, where nine of ten notes lie below."""
    column = np.full(len(chart.bass), np.nan)
    for part in chart.bass.parts:
        mine = chart.bass.part == part
        played = np.sort(chart.bass.pitch[mine])
        column[mine] = chart.bass.pitch[mine] - float(played[int(_REGISTER * (len(played) - 1))])
    return column


@reading("bass-note", unit="beats")
def length(chart: Chart) -> Column:
    """How long it is held, in beats of the meter."""
    return beats(chart, chart.bass.start, chart.bass.end)


@reading("bass-note", unit="beats")
def stand(chart: Chart) -> Column:
    """How long the line stands on its pitch: from the first to the end of its repeats in a row.

    Repeats follow each other by an eighth's rest at most: a roll stands as long as it lasts.
    """
    bass = chart.bass
    column = np.empty(len(bass))
    for part in bass.parts:
        rows = (bass.part == part).nonzero()[0]
        number, start, end = bass.pitch[rows], bass.start[rows], bass.end[rows]
        gap = start[1:] - end[:-1]
        goes_on = (number[1:] == number[:-1]) & (gap <= _REPEAT * chart.song.division)
        first = np.append(True, ~goes_on).nonzero()[0]
        run = np.cumsum(np.append(True, ~goes_on)) - 1
        reach = np.maximum.reduceat(end, first)
        column[rows] = beats(chart, start[first], reach)[run]
    return column


@row_reading("bass-note", unit="text")
def held(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """How long it is held, in words, such as 2 beats."""
    return named(length(chart)[rows], beats_in_words)


@reading("bass-note", unit="ms")
def length_ms(chart: Chart) -> Column:
    """How long it is held, in milliseconds."""
    return milliseconds(chart, chart.bass.start, chart.bass.end)


@reading("bass-note", unit="1–127", source=_MIDI)
def velocity(chart: Chart) -> Column:
    """How hard it is struck."""
    return chart.bass.velocity.astype(np.float64)


@reading("bass-note", unit="beat")
def beat(chart: Chart) -> Column:
    """The beat of the bar on which it starts, from 1, with its fraction."""
    return chart.song.grid.beat_of(chart.bass.start)


@reading("bass-note", unit="bar")
def bar(chart: Chart) -> Column:
    """The bar in which it starts, from 1."""
    return chart.song.grid.bar_of(chart.bass.start).astype(np.float64) + 1.0


@reading("bass-note", unit="text")
def part_name(chart: Chart) -> Column:
    """The name of its part."""
    return part_names(chart, chart.bass.part)


@reading("bass-note", unit="semitones")
def leap(chart: Chart) -> Column:
    """How far it lies from the note before it in its part: up is positive."""
    last = before_in_part(chart.bass)
    pitches = chart.bass.pitch.astype(np.float64)
    return np.where(last >= 0, pitches - pitches[np.maximum(last, 0)], np.nan)


@reading("bass-note", unit="beats")
def rest_before(chart: Chart) -> Column:
    """How long its part was silent before it; negative where the note before still sounds."""
    last = before_in_part(chart.bass)
    start, end = chart.bass.start, chart.bass.end
    return np.where(last >= 0, beats(chart, end[np.maximum(last, 0)], start), np.nan)
