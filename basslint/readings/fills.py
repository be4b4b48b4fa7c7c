"""What is a fill: which grid and shape, how even, how deep, and where in its phrase?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.fill_doubles import doubled_hits, drum_doubles, step_s
from basslint.readings.notes import beats, part_names, words
from basslint.readings.phrase_ends import (
    ends_ahead,
    four_bar_certainty,
    four_bar_ends,
    two_bar_ends,
)
from basslint.theory import tuning
from basslint.theory.general_midi import CRASHES
from basslint.util.columns import differences, found_in

_STEP = 2  # semitones: a whole tone


@reading("fill", unit="text")
def part_name(chart: Chart) -> Column:
    """The name of its part."""
    return part_names(chart, chart.fills.part)


@reading("fill", unit="yes or no")
def of_drums(chart: Chart) -> Column:
    """Is it played by drums?"""
    return chart.fills.drums


@reading("fill", unit="hits")
def hits(chart: Chart) -> Column:
    """How many hits it has, the note it lands on left out."""
    return chart.fills.hits.astype(np.float64)


@reading("fill", unit="text")
def grid(chart: Chart) -> Column:
    """Its grid, such as 1/32 triplet; mixed, or free where its steps are equal but on no grid."""
    return words(list(chart.fills.grid))


@reading("fill", unit="text")
def steps(chart: Chart) -> Column:
    """What its steps are: equal, swung, mixed, gliding (speeding up or slowing down), uneven."""
    return words(list(chart.fills.steps))


@reading("fill", unit="ms")
def step_ms(chart: Chart) -> Column:
    """The time from hit to hit."""
    return 1000.0 * step_s(chart)


@reading("fill", unit="beats")
def length(chart: Chart) -> Column:
    """How long it lasts, in beats of the meter."""
    return beats(chart, chart.fills.start, chart.fills.end)


@reading("fill", unit="text")
def velocities(chart: Chart) -> Column:
    """The shape of its velocities: rising, falling, flat (all within 1 dB) or free."""
    return words(list(chart.fills.velocity))


@reading("fill", unit="1–127", source="MIDI 1.0 detailed specification")
def loudest(chart: Chart) -> Column:
    """The velocity of its hardest hit."""
    velocity = chart.song.notes.velocity
    return np.array([velocity[rows].max() for rows in chart.fills.notes], dtype=np.float64)


@reading("fill", unit="text")
def movement(chart: Chart) -> Column:
    """How its pitch moves: steady, rising, falling, octave, moving; drums for drums."""
    return words(list(chart.fills.movement))


@reading("fill", unit="hits")
def repeated_hits(chart: Chart) -> Column:
    """How many of its hits strike the tone of the hit before again; cannot be told of drums."""
    again = [float(np.count_nonzero(move == 0)) for move in _moves(chart)]
    return np.where(chart.fills.drums, np.nan, again)


@reading("fill", unit="yes or no")
def runs_by_step(chart: Chart) -> Column:
    """Does it run one way by steps of a tone at most, as a glissando does, but for one move?"""
    column = ~chart.fills.drums
    for row, move in enumerate(_moves(chart)):
        one_way = max(np.sum((move > 0) & (move <= _STEP)), np.sum((move < 0) & (move >= -_STEP)))
        column[row] &= one_way >= len(move) - 1
    return column


def _moves(chart: Chart) -> list[NDArray[np.int64]]:
    """Semitones from hit to hit of each fill."""
    pitch = chart.notes.pitch.astype(np.int64)
    return [differences(pitch[rows]) for rows in chart.fills.notes]


@reading("fill", unit="semitones")
def pitch_change(chart: Chart) -> Column:
    """From its first pitch to its last; up is positive."""
    return np.where(chart.fills.drums, np.nan, chart.fills.semitones.astype(np.float64))


@reading("fill", unit="text", source="scientific pitch notation")
def lowest_name(chart: Chart) -> Column:
    """Its lowest note; nothing for drums."""
    names: list[str | None] = []
    for pitch, start in zip(_lowest(chart).tolist(), chart.fills.start.tolist(), strict=True):
        names.append(None if np.isnan(pitch) else chart.note_name(int(pitch), start))
    return words(names)


@reading("fill", unit="periods", source=tuning.SOURCE)
def periods_per_hit(chart: Chart) -> Column:
    """How many periods of its lowest note fit from one hit to the next; cannot be told of drums."""
    return np.asarray(tuning.frequency(_lowest(chart)) * step_s(chart))


@reading("fill", unit="ms")
def stray_ms(chart: Chart) -> Column:
    """How far its worst hit lies from where the others say it belongs."""
    return np.round([away.max() for away in strays(chart)], 1)


@reading("fill", unit="steps")
def stray_steps(chart: Chart) -> Column:
    """How far its worst hit lies from where the others say it belongs, in steps of the roll.

    Not told where most hits fall on one tick, so that the roll has no step.
    """
    step = step_ms(chart)
    known = np.where(step > 0, step, np.nan)
    return np.asarray(stray_ms(chart) / known)


@reading("fill", unit="hits")
def overlapping_hits(chart: Chart) -> Column:
    """How many of its hits still sound when the next one starts."""
    notes = chart.notes
    return np.array(
        [np.sum(notes.end[r[:-1]] > notes.start[r[1:]]) for r in chart.fills.notes],
        dtype=np.float64,
    )


@reading("fill", unit="yes or no")
def part_glides(chart: Chart) -> Column:
    """Does its part glide from note to note elsewhere, by overlaps or portamento?"""
    slides, fills = chart.slides, chart.fills
    in_fill = np.concatenate([np.zeros(0, dtype=np.int64), *fills.notes])
    glides = np.array([how != "bend" for how in slides.how], dtype=bool)
    glides &= ~(found_in(slides.note, in_fill) & found_in(slides.source_note, in_fill))
    return found_in(fills.part, slides.part[glides])


@reading("fill", unit="ms")
def off_drums_ms(chart: Chart) -> Column:
    """How far its worst hit lies from the drum roll that doubles it; cannot be told without one."""
    column = np.full(len(chart.fills), np.nan)
    time = chart.song.tempo.seconds(chart.song.notes.start)
    for row in range(len(column)):
        mine, theirs = doubled_hits(chart, row)
        if len(mine):
            column[row] = round(1000.0 * np.abs(time[mine] - time[theirs]).max(), 1)
    return column


@reading("fill", unit="text")
def doubled_by(chart: Chart) -> Column:
    """The part of the drum roll at the same place with the same steps."""
    names = [p.name for p in chart.song.parts]
    rows = drum_doubles(chart).tolist()
    return words([names[int(chart.fills.part[r])] if r >= 0 else None for r in rows])


@reading("fill", unit="share")
def four_bars_share(chart: Chart) -> Column:
    """How sure it is that four bars begin and end where they are told around it, 0 to 1."""
    if not len(chart.phrases):
        return np.full(len(chart.fills), np.nan)
    return four_bar_certainty(chart, _last_hit(chart))


@reading("fill", unit="beats")
def beats_from_four_bars(chart: Chart) -> Column:
    """From its end to the nearest end of four bars, or of a phrase of another length."""
    return np.abs(beats_past(chart, four_bar_ends(chart)))


@reading("fill", unit="beats")
def beats_from_two_bars(chart: Chart) -> Column:
    """From its end to the next end of two bars of a phrase, before or after."""
    return np.abs(beats_past(chart, two_bar_ends(chart)))


@reading("fill", unit="yes or no")
def in_last_bar(chart: Chart) -> Column:
    """Does it end in the last bar of four, or of a phrase of other length?"""
    grid, last = chart.song.grid, _last_hit(chart)
    ahead = ends_ahead(last, four_bar_ends(chart))
    bar = grid.bar_of(last)
    return np.asarray((ahead >= 0) & (ahead <= grid.start[bar + 1]))


@reading("fill", unit="bar")
def phrase_starts(chart: Chart) -> Column:
    """The bar, from 1, that begins where the four bars around this fill end."""
    fills = chart.fills
    ahead = ends_ahead(_middle(chart), four_bar_ends(chart))
    bar = np.searchsorted(chart.song.grid.start, ahead, side="right").astype(np.float64)
    return np.where(ahead >= 0, bar, np.nan) if len(fills) else np.zeros(0)


@reading("fill", unit="share")
def phrase_chance(chart: Chart) -> Column:
    """How likely a phrase begins at the bar line nearest to its end, 0 to 1."""
    if not len(chart.phrases):
        return np.full(len(chart.fills), np.nan)
    lines, end = chart.song.grid.start, chart.fills.end
    after = np.clip(np.searchsorted(lines, end), 1, len(lines) - 1)
    nearest = np.where(end - lines[after - 1] < lines[after] - end, after - 1, after)
    return chart.phrases.chance[nearest]


@reading("fill", unit="yes or no")
def meets_crash(chart: Chart) -> Column:
    """Is a crash struck where it ends, or within a beat, and none a bar before that?

    The drummer marks a beginning there; crashes that come every bar mark none.
    """
    song, fills = chart.song, chart.fills
    notes = song.notes
    struck = found_in(notes.part, chart.parts.drums) & found_in(notes.pitch, CRASHES)
    crash = np.sort(notes.start[struck])
    near, beat = song.division // 4, song.division
    bar = song.grid.bar_of(fills.end)
    whole = song.grid.start[bar + 1] - song.grid.start[bar] if len(fills) else fills.end

    def within(first: NDArray[np.int64]) -> NDArray[np.bool_]:
        begin = np.searchsorted(crash, first - near, side="left")
        return np.asarray(np.searchsorted(crash, first + beat, side="right") > begin)

    return within(fills.end) & ~within(fills.end - whole)


def beats_past(chart: Chart, ends: NDArray[np.int64]) -> Column:
    """Beats by which each fill ends past (negative: before) the next of ``ends``, [n].

    The next end is the first after the fill's first step: a fill that starts on a phrase's first
    beat has missed that end, however short it is. NaN where there is none.
    """
    fills = chart.fills
    ahead = ends_ahead(_middle(chart), ends)
    past = beats(chart, np.maximum(ahead, 0), fills.end)
    return np.where(ahead >= 0, past, np.nan)


def strays(chart: Chart) -> list[NDArray[np.float64]]:
    """Per fill, how far each hit lies from its place among the others, in milliseconds."""
    song, fills = chart.song, chart.fills
    return [
        np.abs(song.notes.start[rows] / song.division - place)
        * (60_000 / song.tempo.bpm_at(int(start)))
        for rows, place, start in zip(fills.notes, fills.ideal, fills.start, strict=True)
    ]


def _last_hit(chart: Chart) -> NDArray[np.int64]:
    """Where each fill's last hit starts: its end may spill over a bar line by a hand's breadth."""
    start = chart.song.notes.start
    return np.array([start[rows[-1]] for rows in chart.fills.notes], dtype=np.int64)


def _middle(chart: Chart) -> NDArray[np.int64]:
    """A moment inside each fill's first step."""
    fills = chart.fills
    return (fills.start + fills.step * chart.song.division / 2).astype(np.int64)


def _lowest(chart: Chart) -> Column:
    """Lowest MIDI number of each fill, NaN for drums."""
    pitch = chart.notes.pitch
    low = np.array([pitch[rows].min() for rows in chart.fills.notes], dtype=np.float64)
    return np.where(chart.fills.drums, np.nan, low)
