"""Which unbroken tones does the bass play? One per stroke, every slide and bend in its curve."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.audition.voices import Samples, Stroke, Tone
from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.song.arrangement import Notes
from basslint.song.bends import BendCurve, hear_bends
from basslint.util.columns import among, distinct
from basslint.util.records import record

Moments = NDArray[np.float64] | NDArray[np.int64]

LEVEL = 0.7  # of full scale at velocity 127
_STEP_S = 1e-4  # a wheel event is a step; this is how steep its line is drawn
_TAIL_S = 0.1  # a released note still follows the wheel


@record(frozen=False, kw_only=True)
class _Chain:
    """A stroke in the making: its first note, a ``row`` of song.notes, its end in ticks, and its
    knots (tick, pitch)."""

    row: int
    velocity: int
    start: int
    end: int
    knots: list[tuple[int, float]]

    def glide(self, start: int, land: int, origin: float, target: float, end: int) -> None:
        """Slide on; a slide that is under way when the next begins ends there."""
        self.knots = [k for k in self.knots if k[0] < start]
        self.knots += [(start, origin), (max(land, start + 1), target)]
        self.end = max(self.end, end)


def bass_tones(chart: Chart, first: int, last: int) -> list[Tone]:
    """The tones of the bass that sound between two ticks, also tones held from before.

    A legato note sounds in the tone of the note that it slides from. A one-shot rings on until the
    next stroke of its part.
    """
    return tones_within(chart, [(first, last)], frozenset())


def tones_within(
    chart: Chart, stretches: Sequence[tuple[int, int]], but: frozenset[Stroke]
) -> list[Tone]:
    """The tones of the bass that sound in some stretches of ticks, which rise and do not meet.

    ``but``: strokes to leave out, as `strokes_within` names them.
    """
    return [
        _tone(chart, line, i, stroke)
        for line in _lines(chart)
        for i, stroke in _within(chart, line, stretches)
        if stroke not in but
    ]


def strokes_within(chart: Chart, stretches: Sequence[tuple[int, int]]) -> list[Stroke]:
    """The strokes of the bass in some stretches, by all that they sound of: equal ones sound the
    same."""
    return [stroke for line in _lines(chart) for _, stroke in _within(chart, line, stretches)]


def sound_in(begins: Moments, ends: Moments, stretches: Moments) -> NDArray[np.bool_]:
    """Which of some sounds [n] are heard in any of some stretches ([k, 2], which rise and do not
    meet)? All in seconds, or all in ticks."""
    if not len(stretches):
        return np.zeros(len(begins), dtype=bool)
    at = np.searchsorted(stretches[:, 1], begins, side="right")
    first = np.append(stretches[:, 0], np.inf)
    return np.asarray(first[at] < ends)


def _within(
    chart: Chart, line: _Line, stretches: Sequence[tuple[int, int]]
) -> Iterator[tuple[int, Stroke]]:
    seconds = chart.song.tempo.seconds(np.array(stretches, dtype=np.int64).reshape(-1, 2))
    for i in np.flatnonzero(sound_in(line.begins_s, line.ends_s, seconds)).tolist():
        yield i, line.strokes[i]


@record(eq=False, kw_only=True)
class _Line:
    """The strokes of one part, columns of shape [n] in order: ``starts`` ticks; ``begins_s``,
    ``ends_s`` seconds; ``velocity``; ``first``, ``beyond``: their knots among those of the line.

    Of each knot ``ticks``, ``keys`` as written, ``times`` in seconds and ``pitches`` as heard, the
    wheel left out; ``turns`` [n, 2]: rows of the wheel, whose curve is ``curve``, that move it.
    ``strokes``: what each of them sounds of.
    """

    part: int
    starts: NDArray[np.int64]
    begins_s: Samples
    ends_s: Samples
    velocity: NDArray[np.int64]
    first: NDArray[np.int64]
    beyond: NDArray[np.int64]
    ticks: NDArray[np.int64]
    keys: Samples
    times: Samples
    pitches: Samples
    curve: BendCurve | None
    turns: NDArray[np.int64]
    strokes: list[Stroke]

    def knots(self, i: int) -> slice:
        """The rows of a stroke's knots."""
        return slice(int(self.first[i]), int(self.beyond[i]))


def _strokes(
    part: int,
    spans: tuple[NDArray[np.int64], Samples, NDArray[np.int64]],
    knots: tuple[NDArray[np.int64], NDArray[np.int64]],
    line: tuple[NDArray[np.int64], Samples],
    curve: BendCurve | None,
    turns: NDArray[np.int64],
) -> list[Stroke]:
    """What each stroke of a part sounds of: its start, end and velocity (``spans``), its ``knots``
    from one to another among those of the ``line``, and its rows of the wheel.

    All at once: a page compares all strokes of a song with those of some copies.
    """
    points = list(zip(*(column.tolist() for column in line), strict=True))
    own = [tuple(points[a:b]) for a, b in zip(*(column.tolist() for column in knots), strict=True)]
    bent = [b""] * len(own)
    if curve is not None:
        moved, level = curve.tick.tobytes(), curve.semitones.tobytes()
        wide, deep = curve.tick.itemsize, curve.semitones.itemsize
        bent = [
            moved[first * wide : last * wide] + level[max(first - 1, 0) * deep : last * deep]
            for first, last in turns.tolist()
        ]
    return [
        (part, start, end, velocity, at, by)
        for start, end, velocity, at, by in zip(
            *(column.tolist() for column in spans), own, bent, strict=True
        )
    ]


@once_per_chart
def _lines(chart: Chart) -> list[_Line]:
    curves = hear_bends(chart.song, chart.parts.bass, chart.facts.bend_range)
    return [_line(chart, part, curves.get(part)) for part in chart.parts.bass]


def _line(chart: Chart, part: int, curve: BendCurve | None) -> _Line:
    facts, seconds = chart.facts, chart.song.tempo.seconds
    rings = facts.decay_s if facts.one_shot and facts.decay_s else 0.0
    rows, chains = _chains(chart, part, curve)
    plain = chart.song.notes.take(rows)
    own = [(c.row, c.start, c.end, c.velocity, len(c.knots)) for c in chains]
    slid = np.array(own, dtype=np.int64).reshape(-1, 5).T
    starts = np.concatenate((plain.start, slid[1]))
    stops = np.concatenate((plain.end, slid[2]))
    velocity = np.concatenate((plain.velocity, slid[3]))
    count = np.concatenate((np.ones_like(rows), slid[4]))
    ticks = np.array([tick for c in chains for tick, _ in c.knots], dtype=np.int64)
    keys = np.array([key for c in chains for _, key in c.knots], dtype=np.float64)
    ticks, keys = np.concatenate((plain.start, ticks)), np.concatenate((plain.pitch, keys))
    beyond = np.cumsum(count)
    order = np.lexsort((np.concatenate((rows, slid[0])), starts))
    starts = starts[order]
    begins, ends = seconds(starts), seconds(stops[order])
    if rings:
        strokes = distinct(starts)
        coming = np.append(seconds(strokes), np.inf)
        following = coming[np.searchsorted(strokes, starts, side="right")]
        ends = np.maximum(ends, np.minimum(begins + rings, following))
    turns = np.zeros((len(starts), 2), dtype=np.int64)
    if curve is not None:
        moved = seconds(curve.tick)
        turns[:, 0] = np.searchsorted(moved, begins, side="right")
        turns[:, 1] = np.searchsorted(moved, ends + _TAIL_S, side="right")
    velocity, first, beyond = velocity[order], (beyond - count)[order], beyond[order]
    spans, knots = (starts, ends, velocity), (first, beyond)
    return _Line(
        part=part,
        starts=starts,
        begins_s=begins,
        ends_s=ends,
        velocity=velocity,
        first=first,
        beyond=beyond,
        ticks=ticks,
        keys=keys,
        times=seconds(ticks),
        pitches=keys + chart.tuning.shift,
        curve=curve,
        turns=turns,
        strokes=_strokes(part, spans, knots, (ticks, keys), curve, turns),
    )


def _chains(
    chart: Chart, part: int, curve: BendCurve | None
) -> tuple[NDArray[np.intp], list[_Chain]]:
    """The strokes of a bass part: rows of the notes that no slide touches, and the others, with the
    slides that follow them. Their knots leave the wheel out, which the ends of slides contain."""
    notes, slides = chart.song.notes, chart.slides
    mine = np.flatnonzero((slides.part == part) & (np.array(slides.how, dtype=object) != "bend"))
    arrives: dict[int, bool] = {}  # note of a slide at its own start -> struck anew
    for i in mine.tolist():
        note = int(slides.note[i])
        if slides.start[i] == notes.start[note] and note not in arrives:
            arrives[note] = bool(slides.onset[i] == slides.start[i])
    rows = np.flatnonzero(notes.part == part)
    slid = among(rows, np.append(slides.note[mine], slides.source_note[mine]), len(notes))
    chains = {
        row: _chain_of(notes, row, struck=True)
        for row in rows[slid].tolist()
        if arrives.get(row, True)
    }
    chain_of = dict(chains)
    for i in mine.tolist():
        note, source = int(slides.note[i]), int(slides.source_note[i])
        home = chain_of.get(note) or chain_of.get(source)
        if home is None:  # it slides from a note that is too short to be heard
            home = chains[note] = _chain_of(notes, note, struck=False)
        chain_of[note] = home
        start, land = int(slides.start[i]), int(slides.land[i])
        bent = curve.at(np.array([start, land])) if curve else np.zeros(2)
        origin = float(slides.origin[i] - bent[0])
        target = float(slides.target[i] - bent[1])
        home.glide(start, land, origin, target, int(notes.end[note]))
    return rows[~slid], list(chains.values())


def _chain_of(notes: Notes, row: int, struck: bool) -> _Chain:
    """The stroke that begins with a note, sounding at its own pitch where it is ``struck``."""
    start = int(notes.start[row])
    return _Chain(
        row=row,
        velocity=int(notes.velocity[row]),
        start=start,
        end=int(notes.end[row]),
        knots=[(start, float(notes.pitch[row]))] if struck else [],
    )


def _tone(chart: Chart, line: _Line, i: int, stroke: Stroke) -> Tone:
    own = line.knots(i)
    times, pitches = line.times[own], line.pitches[own]
    start, end = float(line.begins_s[i]), float(line.ends_s[i])
    if line.curve is not None:
        first, last = line.turns[i].tolist()
        before = line.curve.semitones[first - 1] if first else 0.0
        if first == last and len(times) == 1:  # the wheel rests and nothing slides
            pitches = pitches + before
        else:
            moved = chart.song.tempo.seconds(line.curve.tick[first:last])
            bent = np.append(before, line.curve.semitones[first:last])
            times, pitches = _bent(moved, bent, times, pitches, start)
    return Tone(
        start=start,
        end=end,
        level=LEVEL * int(line.velocity[i]) / 127,
        times=times,
        pitches=pitches,
        part=line.part,
        stroke=stroke,
    )


def _bent(
    moved: Samples, bent: Samples, times: Samples, pitches: Samples, start: float
) -> tuple[Samples, Samples]:
    """The knots with the wheel's steps added: it stands at ``bent`` (semitones, one more than
    steps) between the moments ``moved``."""
    every = distinct(np.concatenate((times, moved, moved - _STEP_S)))
    every = every[every >= min(start, float(times[0]))]
    raised = np.interp(every, times, pitches) + bent[np.searchsorted(moved, every, side="right")]
    return every, raised
