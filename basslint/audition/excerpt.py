"""What is to be heard of one finding? A few bars as plain lines, for players that are not ours.

The report page plays these; they carry the same slides and levels as the rendered auditions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from basslint.audition.tones import bass_tones
from basslint.audition.voices import Samples
from basslint.hear.chart import Chart
from basslint.judging.results import Where

LONGEST_BARS = 4


@dataclass(frozen=True, slots=True)
class Line:
    """One unbroken bass sound: seconds from the excerpt's start, level 0..1, and the knots of its
    pitch as (seconds, fractional MIDI pitch)."""

    start: float
    end: float
    level: float
    knots: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Chord:
    """One note of the harmony or melody: seconds from the excerpt's start, pitch, level 0..1."""

    start: float
    end: float
    pitch: int
    level: float


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Bars ``first`` to ``last`` (from 1), ``seconds`` long; bass lines and the harmony's notes."""

    first: int
    last: int
    seconds: float
    bass: tuple[Line, ...]
    harmony: tuple[Chord, ...]


def excerpt(chart: Chart, where: Where) -> Excerpt:
    """The bar of a place with one bar before and after, up to `LONGEST_BARS` bars."""
    grid, seconds = chart.song.grid, chart.song.tempo.seconds
    last_tick = max(where.end_tick - 1, where.tick)
    first = max(where.bar - 2, 0)
    last = min(int(grid.bar_of(last_tick)) + 1, grid.bars - 1, first + LONGEST_BARS - 1)
    begin, end = int(grid.start[first]), int(grid.start[last + 1])
    zero = seconds(begin)
    return Excerpt(
        first + 1,
        last + 1,
        seconds(end) - zero,
        tuple(_line(t.start, t.end, t.level, t.times, t.pitches, zero)
              for t in bass_tones(chart, begin, end)),
        _harmony(chart, begin, end, zero),
    )  # fmt: skip


def _line(
    start: float, end: float, level: float, times: Samples, pitches: Samples, zero: float
) -> Line:
    # knots on a straight line between their neighbours say nothing
    keep = np.ones(len(times), dtype=bool)
    keep[1:-1] = (pitches[1:-1] != pitches[:-2]) | (pitches[1:-1] != pitches[2:])
    knots = zip((times[keep] - zero).tolist(), pitches[keep].tolist(), strict=True)
    rounded = tuple((round(max(t, 0.0), 4), round(p, 3)) for t, p in knots)
    return Line(round(start - zero, 4), round(end - zero, 4), round(level, 3), rounded)


def _harmony(chart: Chart, begin: int, end: int, zero: float) -> tuple[Chord, ...]:
    notes, seconds = chart.song.notes, chart.song.tempo.seconds
    parts = [i for i, role in enumerate(chart.parts.role) if role in ("harmony", "melody")]
    rows = np.flatnonzero(np.isin(notes.part, parts) & (notes.start < end) & (notes.end > begin))
    return tuple(
        Chord(
            round(seconds(max(int(notes.start[r]), begin)) - zero, 4),
            round(seconds(min(int(notes.end[r]), end)) - zero, 4),
            int(notes.pitch[r]),
            round(float(notes.velocity[r]) / 127, 3),
        )
        for r in rows.tolist()
    )
