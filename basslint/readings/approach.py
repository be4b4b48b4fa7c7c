"""Does a bass line lead on through a note: by steps, or into the next chord as approaches do?

Notes of one pitch class that are struck again without a rest are one tone of the line here; octaves
are folded, since an octave line steps as well as a close one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.accompaniment import stands_alone, supported
from basslint.readings.base import Column, reading
from basslint.readings.line import accent
from basslint.readings.notes import felt_beats, length, part_by_part, stand
from basslint.readings.recurrence import figures, root_of_chord, tones
from basslint.util.records import record

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

_STEP = 2  # semitones: a whole tone
_OCTAVE, _TRITONE = 12, 6  # semitones
_REST = 1.1  # felt beats: across a longer rest a line begins anew
_SHORT = 1.4  # felt beats: a beat, swung or held over by hand
_IN_TWO = 2.2  # felt beats: half a bar, in a line that moves in twos
_UNEVEN = 0.1  # of the time between two tones: so evenly a line moves, by hand
_LEANS = 0.55  # felt beats: half a beat, held over by hand
_RUN = 3  # steps in one direction that make a run (common practice, no source)
_OPEN = 0.5  # felt beats of rest from which it is open where a tone would have led
_HELD = 0.5  # share of a note for which others must sound its pitch class where it begins
_CARRIED = 0.3  # share of a note for which others must sound its pitch class to carry it
_BAR_LINE = 3  # accent of what stands on it
_WALK = 4  # steps in one direction from which a line is a walk, whatever its beats
_LONGEST = 4.0  # beats: a longer note weighs no more in its figure
_HALF = 0.5  # beats: what passes by step and stands so long is explained half
_STEPS = np.array([0, *[1] * _STEP, *[0] * (_OCTAVE - 2 * _STEP), *[-1] * _STEP])


@record(eq=False, kw_only=True)
class LineTones:
    """The tones of the bass lines, part by part in order of time; columns [t].

    ``of`` [m]: tone of each bass note; ``first``, ``last``: its first and last note; ``before`` and
    ``after``: tones it is linked with, −1 for none; ``from_`` and ``to``: semitones from the one
    and to the other, 0 for none; ``pitch``: its pitch class.
    """

    of: Ints
    first: NDArray[np.intp]
    last: NDArray[np.intp]
    pitch: Ints
    after: Ints
    from_: Ints
    to: Ints


@reading("bass-note", unit="yes or no", source="Open Music Theory: passing notes")
def passes_through(chart: Chart) -> Column:
    """Is it reached and left by step in one direction, a tone that is struck again taken as one?"""
    line = line_tones(chart)
    return np.asarray((steps(line.from_) * steps(line.to) > 0)[line.of])


@reading("bass-note", unit="share", source="common practice: a passing note is short")
def passes_briefly(chart: Chart) -> Column:
    """If it passes through by step: near 1 for a grace, 0.5 at half a beat, less the longer.

    0 for what does not pass. Where a line stands for beats, a step on both sides excuses little.
    """
    longest = np.minimum(stand(chart), _LONGEST)
    return np.asarray(passes_through(chart) * _HALF / (_HALF + longest))


@reading("bass-note", unit="yes or no", source="Open Music Theory: approach notes")
def leads_home(chart: Chart) -> Column:
    """Does it lead on as approaches and walking lines do, for a beat at most?

    By a semitone into a tone that others play, or a root, and that comes on the next bar line or
    chord or did not sound before, with the next tone on both sides of it (by a semitone each: of
    any tone that others play), or in a walk of four steps or more in one direction. A line that
    moves in half notes leads in half notes.
    """
    line = line_tones(chart)
    near, far = line.after, np.append(line.after, -1)[line.after]
    beats = _felt_beats(chart)
    short = beats <= _SHORT
    leads = (short | ((beats <= _IN_TWO) & _keeps_pace(chart, line))) & (np.abs(line.to) == 1)
    leads &= _is_home(chart, line, near)
    aside, beside = _ways(line, np.arange(len(near)), far), _ways(line, near, far)
    around = short & (steps(aside) * steps(beside) < 0)
    if np.count_nonzero(around):  # else nobody needs to hear what the tones around others are
        semitone = [np.abs(way) == 1 for way in (aside, beside)]
        around &= np.where(
            semitone[0] & semitone[1],
            _is_played(chart, line, far),
            (semitone[0] | semitone[1]) & _is_home(chart, line, far),
        )
    second = np.zeros(len(near), dtype=bool)
    second[near[around]] = True  # what stands on the other side leads home, too
    return np.asarray((leads | around | (second & short) | (_walks(chart) >= _WALK))[line.of])


@reading("bass-note", unit="yes or no", source="Open Music Theory: neighbour and passing notes")
def steps_through(chart: Chart) -> Column:
    """Is it reached and left by step, for a beat at most, as embellishing tones are?"""
    line = line_tones(chart)
    embellishes = (steps(line.from_) != 0) & (steps(line.to) != 0)
    return np.asarray((embellishes & (_felt_beats(chart) <= _SHORT))[line.of])


@reading("bass-note", unit="yes or no", source="Open Music Theory: appoggiatura; common practice")
def leans_or_runs_out(chart: Chart) -> Column:
    """Does it lean on another tone for half a beat at most, or end a run of the bass alone?

    It leans where it goes by a semitone, off the bar line and from a third tone, into a tone that
    others play. It ends a run where three steps in one direction and more lead to it, a beat long
    at most, from where nothing else sounds.
    """
    line = line_tones(chart)
    beats = _felt_beats(chart)
    off = np.asarray(accent(chart))[line.first] < _BAR_LINE
    leans = (beats <= _LEANS) & off & (np.abs(line.to) == 1) & (line.from_ != 0)
    leans &= (line.from_ + line.to != 0) & _is_played(chart, line, line.after)
    alone, walked = np.asarray(stands_alone(chart), dtype=bool)[line.last], _walks(chart)
    runs = (walked >= _RUN) & (steps(line.to) == 0) & (beats <= _SHORT)
    runs &= alone[np.arange(len(walked)) - np.where(runs, walked, 0)]
    return np.asarray((leans | runs)[line.of])


@reading("bass-note", unit="beats")
def tone_stands(chart: Chart) -> Column:
    """How long the line stands on its pitch class, however short its strokes.

    As `stand`, or all strokes together that follow one another, a beat's rest between them at most:
    what is struck again and again is no grace.
    """
    of = line_tones(chart).of
    together = np.bincount(of, weights=length(chart), minlength=1)[of]
    return np.asarray(np.maximum(stand(chart), together))


@reading("bass-note", unit="share", source="Open Music Theory: approach notes")
def figure_leads_home(chart: Chart) -> Column:
    """Of the figure it belongs to: the share that leads home, by length; its own outside one.

    Notes with a rest of half a beat after them count only where all have: what a copy leaves out
    is heard from those that play it.
    """
    line = line_tones(chart)
    last = line.last[line.of]
    following = line.first[np.maximum(line.after, 0)][line.of]
    rest = (chart.bass.start[following] - chart.bass.end[last]) / felt_beats(chart)[last]
    goes_on = (line.after[line.of] >= 0) & (rest < _OPEN)
    told = _of_figure(chart, goes_on.astype(np.float64))
    counted = leads_home(chart) & (goes_on | (told <= 0))
    return np.asarray(_of_figure(chart, counted) / np.where(told > 0, told, 1.0))


@reading("bass-note", unit="share", source="harmony, common practice: pedal and suspension")
def figure_held_over(chart: Chart) -> Column:
    """Share of its figure, by length, whose tone goes on from another chord of which it was one.

    Outside of a figure, its own.
    """
    line, root = line_tones(chart), root_of_chord(chart)
    first = line.first[line.of]
    return _of_figure(chart, (root[first] != root) & (supported(chart)[first] >= _HELD))


def _of_figure(chart: Chart, column: Column) -> Column:
    """The mean of a column over the figure of each note, by length, [m]."""
    found, own = figures(chart), np.asarray(column, dtype=np.float64)
    rows = np.flatnonzero(found.of >= 0)
    weight = np.minimum(length(chart)[rows], _LONGEST) + 1e-6
    count = len(found.bars)
    whole = np.bincount(found.of[rows], weights=weight, minlength=count)
    mine = np.bincount(found.of[rows], weights=weight * own[rows], minlength=count)
    own[rows] = (mine / np.maximum(whole, 1e-6))[found.of[rows]]
    return own


def linked(chart: Chart, order: NDArray[np.intp], rest: NDArray[np.floating]) -> Mask:
    """Whether each note but the first follows the one before in its part within a rest, [m − 1].

    ``order``: rows of the bass, part by part in order of time; ``rest`` ticks [m].
    """
    part, start, end = chart.bass.part[order], chart.bass.start[order], chart.bass.end[order]
    return np.asarray((part[1:] == part[:-1]) & (start[1:] - end[:-1] <= rest[1:]))


@once_per_chart
def line_tones(chart: Chart) -> LineTones:
    order = part_by_part(chart)
    tone = tones(chart)[order]
    joined = linked(chart, order, _REST * felt_beats(chart)[order])
    new = np.append(True, ~joined | (tone[1:] != tone[:-1]))[: len(order)]
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(order))[: len(first)] - 1
    of = np.empty(len(order), dtype=np.int64)
    of[order] = np.cumsum(new) - 1
    follows = joined[first[1:] - 1]  # does each tone but the first follow the one before?
    way = np.where(follows, _way(tone[first][:-1], tone[first][1:]), 0)
    after = np.where(follows, np.arange(1, len(first)), -1)
    return LineTones(
        of=of,
        first=order[first],
        last=order[last],
        pitch=tone[first],
        after=np.append(after, -1)[: len(first)],
        from_=np.append(0, way)[: len(first)],
        to=np.append(way, 0)[: len(first)],
    )


def _is_home(chart: Chart, line: LineTones, tone: Ints) -> Mask:
    """For each tone of the line and another: is that of the harmony, on a bar line or a new chord?

    That is, others play it, or it is the chord's root. What did not sound under the note before is
    new, even where the chord's root is told earlier.
    """
    there, root = line.first[np.maximum(tone, 0)], root_of_chord(chart)
    before = chart.accompaniment.share[line.last, line.pitch[np.maximum(tone, 0)]]
    fresh = ((root[there] >= 0) & (root[there] != root[line.last])) | (before <= 0)
    on_line = np.asarray(accent(chart))[there] >= _BAR_LINE
    told = (root[there] >= 0) & (root[there] == line.pitch[np.maximum(tone, 0)])
    return np.asarray((tone >= 0) & (fresh | on_line) & (told | _is_played(chart, line, tone)))


def _is_played(chart: Chart, line: LineTones, tone: Ints) -> Mask:
    """For each tone of the line, −1 for none: do others play that, for a third of it?"""
    return np.asarray((tone >= 0) & (supported(chart)[line.first[tone]] > _CARRIED))


@once_per_chart
def _felt_beats(chart: Chart) -> NDArray[np.float64]:
    """How long each tone of the line lasts, from its first start to its last end, [t]."""
    line = line_tones(chart)
    long = chart.bass.end[line.last] - chart.bass.start[line.first]
    return np.asarray(long / felt_beats(chart)[line.first])


def _keeps_pace(chart: Chart, line: LineTones) -> Mask:
    """Does the line move to each tone, from it and on from the next one in equal times, [t]?

    A tone before it that is struck again counts from its last stroke, one after it from its first.
    """
    start, last = chart.bass.start[line.first], chart.bass.start[line.last]
    moves = line.to[:-1] != 0
    on = np.append(np.where(moves, start[1:] - last[:-1], 0), 0)[: len(start)]
    stands = np.append(np.where(moves, start[1:] - start[:-1], 0), 0)[: len(start)]
    before, after = np.append(0, on[:-1])[: len(start)], np.append(stands[1:], 0)[: len(start)]
    uneven = np.maximum(np.abs(before - stands), np.abs(after - stands))
    return np.asarray((stands > 0) & (uneven <= _UNEVEN * stands))


@once_per_chart
def _walks(chart: Chart) -> Ints:
    """How many steps in one direction go through each tone, [t]."""
    line = line_tones(chart)
    most = np.zeros(len(line.to), dtype=np.int64)
    for way in (1, -1):
        into = _run_ahead((steps(line.from_) == way)[::-1])[::-1]
        most = np.maximum(most, into + _run_ahead(steps(line.to) == way))
    return most


def _run_ahead(held: Mask) -> Ints:
    """How many rows from each on hold without a break, [n]."""
    place = np.arange(len(held))
    breaks = np.where(held[::-1], -1, place)
    return np.asarray((place - np.maximum.accumulate(breaks))[::-1])


def _ways(line: LineTones, tone: Ints, to: Ints) -> Ints:
    """Semitones from tones of the line to others, 0 where either is none (−1), [t]."""
    pitch = np.append(line.pitch, 0)
    return np.where((tone >= 0) & (to >= 0), _way(pitch[tone], pitch[to]), 0)


def steps(way: Ints) -> Ints:
    """1 for a step up, −1 for a step down, 0 for anything else; ``way``: −6 to 6 semitones."""
    return _STEPS[way]  # a way down counts from the end


def _way(tone: Ints, to: Ints) -> Ints:
    """The shorter way from pitch class to pitch class, −6 to 5 semitones."""
    return np.asarray((to - tone + _TRITONE) % _OCTAVE - _TRITONE)
