"""Where are the rolls and fills of the bass and the drums?

A fill is a run of short steps that stands out: the bars around it hardly know such steps. So runs
are searched from the slowest grid to the fastest, and the first that the bars on both sides do not
share is one. A line in running sixteenths is no fill, a roll of thirty-seconds inside it is.

How far fills may be from rare, and how long they are, is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from basslint.hear.grid import NAMES, STEPS, Steps, explain
from basslint.hear.hits import Hits, streams
from basslint.song import Song

if TYPE_CHECKING:
    from basslint.hear.parts import Parts

Column = NDArray[np.float64]
Ints = NDArray[np.int64]
Velocity = Literal["rising", "falling", "flat", "free"]
Movement = Literal["steady", "rising", "falling", "octave", "moving", "drums"]

# Longest step of each level, in quarter notes: half way (by ratio) to the next slower grid.
LEVELS: Column = np.sqrt(STEPS * np.concatenate(([1 / 3], STEPS[:-1])))
# Of four bars on either side so many may hold such steps too. Sixteenths are common in a groove,
# so one bar in four; faster steps may come every second bar.
SIDE = 4
MOST_OF_SIDE = np.array([1, 2, 2, 2, 2, 2, 2])
LONGEST_BARS = 2.0  # a longer run is a section, not a fill
FEWEST_HITS = 3  # the smallest roll: three hits and the note they land on
FEWEST_ONSETS = 4
SHORTEST_QUARTERS = 0.18  # less is an ornament of one note (a drag, a ruff)
SHORTEST_SLOW = 0.45  # of a run of sixteenths or sixteenth triplets
JITTER_S = 0.016  # two hits up to 8 ms off, in opposite directions
BREATH = 0.55  # quarters; a fill may pause for an eighth between two of its runs


@dataclass(frozen=True, slots=True, eq=False)
class Fills:
    """Fills in order of time, columns of shape [n].

    ``part`` int32; ``start`` int64: tick of the first hit; ``end`` int64: where the next hit would
    have fallen; ``hits`` int64; ``grid``: one of `hear.grid.NAMES`; ``velocity``: `Velocity`;
    ``certainty`` float64; ``notes``: per fill the int64 rows of song.notes of its hits, doubled
    drums left out; ``drums`` bool.

    ``step`` float64: quarter notes from hit to hit, the median; ``steps``: `hear.grid.Kind`;
    ``movement``: `Movement` of the pitch; ``semitones`` int64: last pitch less the first;
    ``landing`` int64: row of the note it lands on, −1 for none.
    """

    part: NDArray[np.int32]
    start: Ints
    end: Ints
    hits: Ints
    grid: tuple[str, ...]
    velocity: tuple[Velocity, ...]
    certainty: Column
    notes: tuple[Ints, ...]
    drums: NDArray[np.bool_]
    step: Column
    steps: tuple[str, ...]
    movement: tuple[Movement, ...]
    semitones: Ints
    landing: Ints

    def __len__(self) -> int:
        return len(self.start)


@dataclass(frozen=True, slots=True)
class _Fill:
    part: int
    rows: Ints
    end: int
    steps: Steps
    certainty: float
    drums: bool
    kit: bool
    landing: int


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """The hits of all streams with their clocks, columns [n]; ``gap`` is inf at a stream's end."""

    hits: Hits
    quarter: Column
    gap: Column
    quarter_s: Column
    bar: Ints
    first_bar: Ints  # [streams]
    last_bar: Ints  # [streams]


def hear_fills(song: Song, parts: Parts) -> Fills:
    """Hear the fills of the bass and drum parts."""
    hits = streams(song, parts)
    found: list[_Fill] = []
    if len(hits) >= FEWEST_ONSETS:
        line = _clocks(song, hits)
        for first, last, rarity in _join(line, _standing_out(song, line)):
            fill = _make(song, line, first, last, rarity, parts.drums)
            if fill is not None:
                found.append(fill)
    return _columns(song, _one_of_each(song, found))


def hit_places(song: Song, rows: Ints) -> Steps:
    """What steps these notes make, and where each would fall, in quarter notes of the file."""
    start = song.notes.start[rows]
    quarter_ms = 60_000 / song.tempo.bpm_at(int(start[0]))
    return explain(start / song.division, quarter_ms, 1 / song.division)


def _clocks(song: Song, hits: Hits) -> _Line:
    start = song.notes.start[hits.row]
    quarter = start / song.division
    gap = np.append(np.diff(quarter), np.inf)
    change = np.flatnonzero(np.diff(hits.stream))
    gap[change] = np.inf
    tempo = song.tempo
    usec = tempo.usec[np.searchsorted(tempo.tick, start, side="right") - 1]
    bar = song.grid.bar_of(start)
    heads, tails = np.append(0, change + 1), np.append(change, len(start) - 1)
    return _Line(hits, quarter, gap, usec / 1e6, bar, bar[heads], bar[tails])


def _short(line: _Line, level: int) -> NDArray[np.bool_]:
    """Whether the gap after each hit is a step of this level or faster."""
    gap, most = line.gap, float(LEVELS[level])
    before, after = np.append(np.inf, gap[:-1]), np.append(gap[1:], np.inf)
    # three gaps together are a third as jittery as one
    blurred = (gap <= most + JITTER_S / line.quarter_s) & ((before + gap + after) / 3 <= most)
    short = (gap <= most) | blurred
    if level == 0:  # swung sixteenths: long and short make an eighth
        for other in (before, after):
            pair = np.abs(gap + other - 0.5) < 0.06
            short |= pair & (gap < 0.36) & (other < 0.36)
    return np.asarray(short)


def _standing_out(song: Song, line: _Line) -> list[tuple[int, int, float]]:
    """(first hit, last hit, share of the busier side's bars with such steps) of each run."""
    bars = song.grid.bars
    taken = np.zeros(len(line.gap), dtype=bool)
    found: list[tuple[int, int, float]] = []
    bar_quarters = np.diff(song.grid.start) / song.division
    for level in range(len(LEVELS)):
        short = _short(line, level)
        edge = np.diff(short.astype(np.int8), prepend=0, append=0)
        first, last = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
        keep = last - first >= FEWEST_ONSETS - 1
        first, last = first[keep], last[keep]
        if not len(first):
            break
        length = line.quarter[last] - line.quarter[first]
        keep = length >= SHORTEST_QUARTERS if level > 1 else length >= SHORTEST_SLOW
        first, last, length = first[keep], last[keep], length[keep]
        left, right = _sides(line, first, last, bars)
        most = MOST_OF_SIDE[level]
        good = (
            (length <= LONGEST_BARS * bar_quarters[line.bar[first]] + 0.05)
            & (left[0] <= most)
            & (right[0] <= most)
            & (left[1] + right[1] >= 2)
        )
        share = np.maximum(left[0] / np.maximum(left[1], 1), right[0] / np.maximum(right[1], 1))
        for run in np.flatnonzero(good).tolist():
            begin, end = int(first[run]), int(last[run])
            if not taken[begin : end + 1].any():
                taken[begin : end + 1] = True
                found.append((begin, end, float(share[run])))
    return sorted(found)


def _sides(
    line: _Line, first: Ints, last: Ints, bars: int
) -> tuple[tuple[Ints, Ints], tuple[Ints, Ints]]:
    """(bars with such runs, bars) of the `SIDE` bars before and after each run, same stream."""
    stream = line.hits.stream
    base = stream * (bars + 1)
    busy = np.zeros((int(stream[-1]) + 1) * (bars + 1) + 1, dtype=np.int64)
    inside = np.zeros(len(stream) + 1, dtype=np.int64)
    np.add.at(inside, first, 1)
    np.add.at(inside, last, -1)
    steps = np.flatnonzero(np.cumsum(inside)[:-1] > 0)
    cell, count = np.unique(base[steps] + line.bar[steps], return_counts=True)
    busy[cell[count >= 2] + 1] = 1
    total = np.cumsum(busy)
    of = stream[first]
    low, high = line.first_bar[of], line.last_bar[of]
    begin, end = line.bar[first], line.bar[last - 1] + 1
    shift = base[first]
    left_from = np.maximum(begin - SIDE, low)
    right_to = np.minimum(end + SIDE, high + 1)
    right_to = np.maximum(right_to, end)
    left = total[shift + begin] - total[shift + left_from]
    right = total[shift + right_to] - total[shift + end]
    return (left, begin - left_from), (right, right_to - end)


def _join(line: _Line, runs: list[tuple[int, int, float]]) -> list[tuple[int, int, float]]:
    """Join runs of one stream that are an eighth or less apart: one fill that breathes."""
    joined: list[tuple[int, int, float]] = []
    for first, last, share in runs:
        if joined and first <= joined[-1][1] + 1 and line.gap[joined[-1][1]] <= BREATH:
            begin, _, other = joined.pop()
            joined.append((begin, last, max(share, other)))
        else:
            joined.append((first, last, share))
    return joined


def _make(
    song: Song, line: _Line, first: int, last: int, share: float, drum_parts: tuple[int, ...]
) -> _Fill | None:
    """Explain a run, take stray steps at its ends and its landing note off, and weigh it."""
    quarter_s = float(line.quarter_s[first])
    before, after = _stray_ends(line.gap[first:last], JITTER_S / quarter_s)
    first, last = first + before, last - after
    if last - first < FEWEST_ONSETS - 1:
        return None
    first, last, steps = _explain_core(line, first, last, 1 / song.division)
    rows = line.hits.row[first : last + 1]
    landing = -1
    if _lands(song, rows, steps, quarter_s):
        landing, rows = int(rows[-1]), rows[:-1]
    slow = steps.step > LEVELS[1]
    if len(rows) < FEWEST_HITS + (1 if slow or landing < 0 else 0):
        return None
    hits = len(rows)
    if hits <= FEWEST_ONSETS and steps.kind not in ("equal", "swung"):
        return None
    kit = bool(line.hits.kit[line.hits.stream[first]])
    parts, counts = np.unique(song.notes.part[rows], return_counts=True)
    part = int(parts[np.argmax(counts)])
    end = round(song.notes.start[rows[-1]] + steps.step * song.division)
    if landing >= 0:
        end = int(song.notes.start[landing])
    return _Fill(
        part, rows, end, steps, _certainty(steps, hits, share), part in drum_parts, kit, landing
    )


def _stray_ends(gap: Column, jitter: float) -> tuple[int, int]:
    """How many of the first and last gaps (two at most) are slower than the roll itself."""
    usual = float(np.median(gap))
    slow = gap > 1.3 * usual + jitter

    def strays(slow: NDArray[np.bool_], gap: Column) -> int:
        count = int(np.argmin(slow))
        roll = gap[count : count + 3]
        return count if count <= 2 and roll.mean() <= 1.15 * usual + jitter / 3 else 0

    return strays(slow, gap), strays(slow[::-1], gap[::-1])


def _explain_core(line: _Line, first: int, last: int, tick: float) -> tuple[int, int, Steps]:
    """Explain a run; where it is a mix only for a slower first or last gap, leave that out."""
    quarter_ms = 1000 * float(line.quarter_s[first])
    whole = explain(line.quarter[first : last + 1], quarter_ms, tick)
    if whole.kind not in ("mixed", "uneven"):
        return first, last, whole
    slower = 1.15 * float(np.median(line.gap[first:last]))
    before, after = int(line.gap[first] > slower), int(line.gap[last - 1] > slower)
    for begin, end in (
        (first + before, last - after),
        (first + before, last),
        (first, last - after),
    ):
        if FEWEST_ONSETS - 1 <= end - begin < last - first:
            core = explain(line.quarter[begin : end + 1], quarter_ms, tick)
            if core.kind == "equal" and len(core.cuts) == 2:
                return begin, end, core
    return first, last, whole


def _lands(song: Song, rows: Ints, steps: Steps, quarter_s: float) -> bool:
    """Whether the last onset is the note that the roll lands on: on a bar line, or rung out."""
    start = int(song.notes.start[rows[-1]])
    near = max(min(JITTER_S / 2 / quarter_s, 0.4 * steps.step), 1 / song.division) * song.division
    lines = song.grid.start
    at = int(np.searchsorted(lines, start))
    if min(abs(int(lines[min(max(i, 0), len(lines) - 1)]) - start) for i in (at - 1, at)) <= near:
        return len(rows) > 1
    length = (song.notes.end[rows] - song.notes.start[rows]) / song.division
    return bool(length[-1] > 1.75 * steps.step and np.median(length[:-1]) <= 1.25 * steps.step)


def _certainty(steps: Steps, hits: int, share: float) -> float:
    """How surely a run is meant as a fill: rare around it, many hits, fast and even steps."""
    rare = 1 - 0.8 * share
    many = 1 - 0.5 ** (hits - 1)
    fast = 0.85 if steps.step > LEVELS[1] else 1.0
    even = 0.8 if steps.kind == "uneven" else 1.0
    return float(rare * many * fast * even)


def _one_of_each(song: Song, found: list[_Fill]) -> list[_Fill]:
    """One fill per event and part: a doubled drum or the kit's own stream would tell it again.

    The kit's stream counts where no single drum plays most of it.
    """
    chosen: list[_Fill] = []
    starts = song.notes.start

    def covered(a: _Fill, b: _Fill) -> float:
        begin = max(starts[a.rows[0]], starts[b.rows[0]])
        return float((min(a.end, b.end) - begin) / max(a.end - starts[a.rows[0]], 1))

    solo = [f for f in found if not f.kit]
    for fill in (f for f in found if f.kit):
        same = [f for f in solo if f.drums and covered(f, fill) > 0]
        if any(covered(fill, f) >= 0.7 for f in same):
            continue
        solo = [f for f in solo if not (f.drums and covered(f, fill) > 0.5)]
        chosen.append(fill)
    for fill in sorted(solo, key=lambda f: -len(f.rows)):
        if not any(f.part == fill.part and covered(fill, f) > 0 for f in chosen):
            chosen.append(fill)
    return sorted(chosen, key=lambda f: (int(starts[f.rows[0]]), f.part))


def _columns(song: Song, fills: list[_Fill]) -> Fills:
    notes = song.notes
    shapes = [_movement(notes.pitch[f.rows].astype(np.int64), f.drums) for f in fills]
    return Fills(
        np.array([f.part for f in fills], dtype=np.int32),
        np.array([notes.start[f.rows[0]] for f in fills], dtype=np.int64),
        np.array([f.end for f in fills], dtype=np.int64),
        np.array([len(f.rows) for f in fills], dtype=np.int64),
        tuple(f.steps.grid for f in fills),
        tuple(velocity_shape(notes.velocity[f.rows].astype(np.float64)) for f in fills),
        np.array([f.certainty for f in fills], dtype=np.float64),
        tuple(f.rows for f in fills),
        np.array([f.drums for f in fills], dtype=bool),
        np.array([f.steps.step for f in fills], dtype=np.float64),
        tuple(f.steps.kind for f in fills),
        tuple(s[0] for s in shapes),
        np.array([s[1] for s in shapes], dtype=np.int64),
        np.array([f.landing for f in fills], dtype=np.int64),
    )


def loudness_db(velocity: Column) -> Column:
    """Level of a velocity in dB under 127: 40·log10(v/127).

    The concave velocity curve of the DLS Level 1 specification, stated from memory.
    """
    return np.asarray(40 * np.log10(np.maximum(velocity, 1) / 127))


def velocity_shape(velocity: Column) -> Velocity:
    """The shape of a roll's velocities, [n ≥ 2], by a line through their levels.

    Flat: all within 1 dB, about the smallest change of level that is heard (textbook value of
    psychoacoustics, from memory). Rising or falling: the line climbs 1.5 dB or more from first to
    last hit and is 2.5 times steeper than its own standard error; else free.
    """
    level = loudness_db(velocity)
    if level.max() - level.min() < 1.0:
        return "flat"
    index = np.arange(len(level)) - (len(level) - 1) / 2
    spread = float(index @ index)
    slope = float(index @ level) / spread
    rest = level - level.mean() - slope * index
    error = float(np.sqrt(rest @ rest / max(len(level) - 2, 1) / spread))
    if abs(slope) * (len(level) - 1) < 1.5 or abs(slope) < 2.5 * error:
        return "free"
    return "rising" if slope > 0 else "falling"


def _movement(pitch: Ints, drums: bool) -> tuple[Movement, int]:
    if drums:
        return "drums", 0
    move = np.diff(pitch)
    net = int(pitch[-1] - pitch[0])
    if not move.any():
        return "steady", 0
    if (move % 12 == 0).all():
        return "octave", net
    if (move >= 0).all() or (move <= 0).all():
        return ("rising" if net > 0 else "falling"), net
    return "moving", net


__all__ = ["NAMES", "Fills", "hear_fills", "hit_places", "loudness_db", "velocity_shape"]
