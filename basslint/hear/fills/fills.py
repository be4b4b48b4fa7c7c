"""Where are the rolls and fills of the bass and the drums?

A fill is a run of short steps that stands out: the bars around it hardly know such steps. So runs
are searched from the slowest grid to the fastest, and the first that the bars on both sides do not
share is one. A line in running sixteenths is no fill, a roll of thirty-seconds inside it is.

How rare fills are and how long they last is common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.fills.grid import Steps, median
from basslint.hear.fills.hits import FLAM_S, streams
from basslint.hear.fills.runs import (
    FEWEST_ONSETS,
    JITTER_S,
    LEVELS,
    Line,
    clocks,
    join,
    standing_out,
)
from basslint.hear.fills.shape import Movement, Velocity, movement, velocity_shape
from basslint.hear.fills.steps import explain
from basslint.song.arrangement import Song
from basslint.util.columns import differences
from basslint.util.records import record

if TYPE_CHECKING:
    from basslint.hear.parts.parts import Parts

Column = NDArray[np.float64]
Ints = NDArray[np.int64]

FEWEST_HITS = 3  # the smallest roll: three hits and the note they land on
MOST_OF_RIFF = 0.34  # a tune in short steps every second bar is a riff, one of three notes a turn
# A drag or ruff: up to five strokes, each too close on the next to be heard alone, into an accent.
MOST_GRACE = 5
_ACCENT = 1.15  # how much louder than its grace strokes an accent is; a roll rises in smaller steps
# By judgement, tried on made-up rolls and on real songs (tests/bench/fills.py):
_SLOWER = 1.3  # times the usual gap: a step of the groove before or after the roll
_MOST_STRAYS = 2  # such steps at either end
_FEW_GAPS = 3  # of the roll behind them, which must be steady: so much jitter three average out
_STEADY = 1.15  # times the usual gap
_ON_LINE = 0.4  # of a step: a hit this near to a bar line stands on it
_RUNG_OUT, _SHORT = 1.75, 1.25  # steps: lengths of the note landed on, and of the hits before it
_COMMON = 0.8  # how much less sure a run is if all bars around have such steps
_BY_CHANCE = 0.5  # chance that one more hit belongs to the groove and not to a fill
_SLOW, _UNEVEN = 0.85, 0.8  # sixteenths, and uneven steps, are often a rhythm and no roll
_MOST_OF_KIT = 0.7  # share of the kit's fill from which one drum plays it, and tells it alone
FEWEST_KICKS = 6  # shorter runs of the kick, and sixteenths, are the groove itself


@record(eq=False, kw_only=True)
class Fills:
    """Fills in order of time, columns of shape [n].

    ``part`` int32; ``start`` int64: tick of the first hit; ``end`` int64: where the next hit would
    have fallen; ``hits`` int64; ``grid``: as `Steps.grid`; ``velocity``: `Velocity`;
    ``certainty`` float64; ``notes``: per fill the int64 rows of song.notes of its hits, doubled
    drums left out; ``drums`` bool.

    ``step`` float64: quarter notes from hit to hit, the median; ``steps``: `grid.Kind`;
    ``movement``: `Movement` of the pitch; ``semitones`` int64: last pitch less the first;
    ``landing`` int64: row of the note it lands on, −1 for none; ``ideal``: per fill float64, where
    each hit would fall if it were even, in quarter notes of the file.
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
    ideal: tuple[Column, ...]

    def __len__(self) -> int:
        return len(self.start)


@record(kw_only=True)
class _Fill:
    part: int
    rows: Ints
    end: int
    steps: Steps
    certainty: float
    drums: bool
    kit: bool
    landing: int


def hear_fills(song: Song, parts: Parts) -> Fills:
    """Hear the fills of the bass and drum parts."""
    hits = streams(song, parts)
    found: list[_Fill] = []
    if len(hits) >= FEWEST_ONSETS:
        line = clocks(song, hits)
        for first, last, rarity in join(line, standing_out(song, line)):
            fill = _make(song, line, first, last, rarity, parts.drums)
            if fill is not None:
                found.append(fill)
    return _columns(song, _one_of_each(song, found))


def _make(
    song: Song, line: Line, first: int, last: int, share: float, drum_parts: tuple[int, ...]
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
        if steps.kind != "equal" and len(rows) >= FEWEST_HITS:
            # the roll may be late where the bar line is not: judge its steps without it
            steps = explain(line.quarter[first:last], 1000 * quarter_s, 1 / song.division)
    slow = steps.step > LEVELS[1]
    if len(rows) < FEWEST_HITS + (1 if slow or landing < 0 else 0):
        return None
    hits = len(rows)
    if _is_ruff(song, rows, landing, steps.step * quarter_s):
        return None
    if hits <= FEWEST_ONSETS and steps.kind not in ("equal", "swung"):
        return None
    stream = int(line.hits.stream[first])
    if line.hits.kick[stream] and (slow or hits < FEWEST_KICKS):
        return None
    part = int(np.argmax(np.bincount(song.notes.part[rows])))
    drums = part in drum_parts
    if not drums and _is_line(song.notes.pitch[rows].astype(np.int64), slow, share):
        return None
    end = round(song.notes.start[rows[-1]] + steps.step * song.division)
    if landing >= 0:
        end = int(song.notes.start[landing])
    kit = bool(line.hits.kit[stream])
    return _Fill(
        part=part,
        rows=rows,
        end=end,
        steps=steps,
        certainty=_certainty(steps, hits, share),
        drums=drums,
        kit=kit,
        landing=landing,
    )


def _is_line(pitch: Ints, slow: bool, share: float) -> bool:
    """Whether a run of the bass is a melodic or octave figure of its line, and no roll.

    A tune or an octave figure in sixteenths is a line; a tune in faster steps is one where it
    returns, or has three notes.
    """
    way, _ = movement(pitch)
    if way == "moving":
        return slow or share > MOST_OF_RIFF or len(pitch) == FEWEST_HITS
    return bool(way == "octave" and slow and np.count_nonzero(differences(pitch)) > 1)


def _stray_ends(gap: Column, jitter: float) -> tuple[int, int]:
    """How many of the first and last gaps (two at most) are slower than the roll itself."""
    usual = median(gap)
    slow = gap > max(_SLOWER * usual, usual + jitter)

    def strays(slow: NDArray[np.bool_], gap: Column) -> int:
        count = int(np.argmin(slow))
        roll = gap[count : count + _FEW_GAPS]
        steady = roll.mean() <= _STEADY * usual + jitter / _FEW_GAPS
        return count if count <= _MOST_STRAYS and steady else 0

    return strays(slow, gap), strays(slow[::-1], gap[::-1])


def _explain_core(line: Line, first: int, last: int, tick: float) -> tuple[int, int, Steps]:
    """Explain a run; where it is a mix only for a slower first or last gap, leave that out."""
    quarter_ms = 1000 * float(line.quarter_s[first])
    whole = explain(line.quarter[first : last + 1], quarter_ms, tick)
    if whole.kind not in ("mixed", "uneven"):
        return first, last, whole
    slower = _STEADY * median(line.gap[first:last])
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
    tick = 1 / song.division
    near = max(min(JITTER_S / 2 / quarter_s, _ON_LINE * steps.step), tick) * song.division
    lines = song.grid.start
    at = int(lines.searchsorted(start))
    if min(abs(int(lines[min(max(i, 0), len(lines) - 1)]) - start) for i in (at - 1, at)) <= near:
        return len(rows) > 1
    length = (song.notes.end[rows] - song.notes.start[rows]) / song.division
    return bool(length[-1] > _RUNG_OUT * steps.step and median(length[:-1]) <= _SHORT * steps.step)


def _is_ruff(song: Song, rows: Ints, landing: int, step_s: float) -> bool:
    """Whether the hits are grace strokes of one accent, the last of them or the note landed on."""
    accent = landing if landing >= 0 else int(rows[-1])
    grace = rows if landing >= 0 else rows[:-1]
    loud = song.notes.velocity
    close = step_s < FLAM_S and len(grace) <= MOST_GRACE
    return bool(close and loud[accent] > _ACCENT * loud[grace].max())


def _certainty(steps: Steps, hits: int, share: float) -> float:
    """How surely a run is meant as a fill: rare around it, many hits, fast and even steps."""
    rare = 1 - _COMMON * share
    many = 1 - _BY_CHANCE ** (hits - 1)
    fast = _SLOW if steps.step > LEVELS[1] else 1.0
    even = _UNEVEN if steps.kind == "uneven" else 1.0
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
        of_kit = [f.drums and covered(f, fill) > 0 for f in solo]
        if any(
            mine and covered(fill, f) >= _MOST_OF_KIT for f, mine in zip(solo, of_kit, strict=True)
        ):
            continue
        solo = [f for f, mine in zip(solo, of_kit, strict=True) if not mine]
        chosen.append(fill)
    for fill in sorted(solo, key=lambda f: -len(f.rows)):
        if not any(f.part == fill.part and covered(fill, f) > 0 for f in chosen):
            chosen.append(fill)
    return sorted(chosen, key=lambda f: (int(starts[f.rows[0]]), f.part))


def _columns(song: Song, fills: list[_Fill]) -> Fills:
    notes = song.notes
    shapes: list[tuple[Movement, int]] = [
        ("drums", 0) if f.drums else movement(notes.pitch[f.rows].astype(np.int64)) for f in fills
    ]
    return Fills(
        part=np.array([f.part for f in fills], dtype=np.int32),
        start=np.array([notes.start[f.rows[0]] for f in fills], dtype=np.int64),
        end=np.array([f.end for f in fills], dtype=np.int64),
        hits=np.array([len(f.rows) for f in fills], dtype=np.int64),
        grid=tuple(f.steps.grid for f in fills),
        velocity=tuple(velocity_shape(notes.velocity[f.rows].astype(np.float64)) for f in fills),
        certainty=np.array([f.certainty for f in fills], dtype=np.float64),
        notes=tuple(f.rows for f in fills),
        drums=np.array([f.drums for f in fills], dtype=bool),
        step=np.array([f.steps.step for f in fills], dtype=np.float64),
        steps=tuple(f.steps.kind for f in fills),
        movement=tuple(s[0] for s in shapes),
        semitones=np.array([s[1] for s in shapes], dtype=np.int64),
        landing=np.array([f.landing for f in fills], dtype=np.int64),
        ideal=tuple(f.steps.ideal[: len(f.rows)] for f in fills),
    )
