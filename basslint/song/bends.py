"""How far is each part bent, and when does the bend move?

A `BendCurve` is the pitch bend of one part as a curve in semitones; a motion is one stretch in
which it moves without coming to rest. Nothing here knows of notes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.smf.status import BEND, CONTROLLER
from basslint.song.arrangement import Song
from basslint.song.ranges import (
    DEFAULT_RANGE,
    MEMBER_RANGE,
    RESET_CONTROLLERS,
    Ranges,
    RangeStep,
    hear_ranges,
    heard_by,
)
from basslint.song.timing import TempoMap
from basslint.util.records import record

HALF = 8192.0  # values of a pitch-bend message from centre to end, MIDI 1.0
NO_ROW = -1
# A bend at rest for this long is heard as a note of its own (common practice, no source): below
# the shorter time never, from the longer one on always, between them unless events come evenly.
SHORT_REST_S = 0.060
LONG_REST_S = 0.250
EVEN_RATIO = 2.5  # gaps within this ratio of a neighbour's are one even stream of events


@record(eq=False, kw_only=True)
class BendCurve:
    """The pitch bend of one part as columns of shape [k], in order of time.

    ``tick`` int64; ``semitones`` float64: how far it is bent from that event on; ``row``
    int64: row in song.changes, `NO_ROW` where no bend event is the cause (a change of range, a
    reset of controllers); ``stated`` bool: the range in force was stated by the file or the user.
    ``range`` float64: that range in semitones. Before the first event the bend is at its centre.
    """

    tick: NDArray[np.int64]
    semitones: NDArray[np.float64]
    row: NDArray[np.int64]
    stated: NDArray[np.bool_]
    range: NDArray[np.float64]
    misplaced: float

    def __len__(self) -> int:
        return len(self.tick)

    def at(self, tick: NDArray[np.int64]) -> NDArray[np.float64]:
        """Semitones off centre at each tick, all events of that tick counted."""
        place = np.searchsorted(self.tick, tick, side="right")
        return np.concatenate(([0.0], self.semitones))[place]


@record(eq=False, kw_only=True)
class BendSteps:
    """The events at which a bend really moves, columns of shape [s].

    ``at`` int64 rows of the curve; ``tick`` int64; ``before``, ``after`` float64 semitones;
    ``rises`` bool; ``motion`` int64: number of the motion that each step belongs to.
    """

    at: NDArray[np.int64]
    tick: NDArray[np.int64]
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    rises: NDArray[np.bool_]
    motion: NDArray[np.int64]


def hear_bends(song: Song, parts: tuple[int, ...], stated: float | None) -> dict[int, BendCurve]:
    """The bend curves of some parts (indexes into song.parts) that have bend events.

    ``stated`` is a bend range that the user vouches for; it wins over what the file says, since
    many instruments keep their own range whatever the file sends.
    """
    if not song.steering.bends:
        return {}
    changes = song.changes
    reset = (changes.kind == CONTROLLER) & (changes.number == RESET_CONTROLLERS)
    rows = ((changes.kind == BEND) | reset).nonzero()[0]
    found = changes.take(rows)
    curves: dict[int, BendCurve] = {}
    for index, ranges in hear_ranges(song, parts).items():
        part = song.parts[index]
        reached = heard_by(song, part.track, found)
        mine = rows[reached & (found.channel == part.channel)]
        curve = _curve(song, mine, ranges.steps, ranges, stated)
        if ranges.manager and ranges.manager != part.channel:
            above = rows[reached & (found.channel == ranges.manager)]
            curve = _add(curve, _curve(song, above, ranges.manager_steps, ranges, None))
        if (curve.row >= 0).any():
            curves[index] = curve
    return curves


def _curve(
    song: Song,
    rows: NDArray[np.intp],
    steps: tuple[RangeStep, ...],
    ranges: Ranges,
    stated: float | None,
) -> BendCurve:
    """The curve of one channel from its bend events and its ranges, in file order."""
    changes = song.changes
    if stated is not None:
        steps = (RangeStep(-1, 0, stated, True),)
    at = np.array([s.row for s in steps], dtype=np.int64)
    row = np.concatenate((rows, at))
    is_range = np.arange(len(row)) >= len(rows)
    order = np.lexsort((is_range, row))
    row, is_range = row[order], is_range[order]
    place = np.maximum(row, 0)
    tick = np.where(row < 0, 0, changes.tick[place]) if len(changes) else np.zeros(0, np.int64)
    is_bend = ~is_range & (changes.kind[place] == BEND)
    raw = np.where(is_bend, changes.value[place], 0).astype(np.float64)
    raw = _carry(raw, ~is_range, 0.0)
    widths = np.zeros(len(row))
    widths[is_range] = [s.semitones for s in steps]
    flags = np.zeros(len(row))
    flags[is_range] = [float(s.stated) for s in steps]
    width = _carry(widths, is_range, DEFAULT_RANGE)
    known = _carry(flags, is_range, 0.0) > 0
    return BendCurve(
        tick=tick.astype(np.int64),
        semitones=raw / HALF * width,
        row=np.where(is_bend, row, NO_ROW).astype(np.int64),
        stated=known,
        range=width,
        misplaced=ranges.misplaced if stated is None else float("nan"),
    )


def _carry(
    value: NDArray[np.float64], fresh: NDArray[np.bool_], initial: float
) -> NDArray[np.float64]:
    """Each row's value, or the last fresh one before it."""
    last = np.maximum.accumulate(np.where(fresh, np.arange(len(value)), -1))
    return np.where(last >= 0, value[np.maximum(last, 0)], initial) if len(value) else value


def _add(member: BendCurve, manager: BendCurve) -> BendCurve:
    """MPE: a member channel sounds at its own bend plus that of its manager channel."""
    if not len(manager):
        return member
    tick = np.concatenate((member.tick, manager.tick))
    row = np.concatenate((member.row, manager.row))
    order = np.argsort(tick, kind="stable")
    own = np.arange(len(tick)) < len(member)
    own = own[order]
    both = np.concatenate((member.semitones, manager.semitones))[order]
    sounding = _carry(both, own, 0.0) + _carry(both, ~own, 0.0)
    width = np.concatenate((member.range, manager.range))[order]
    known = np.concatenate((member.stated, manager.stated))[order]
    width = _carry(width, own, MEMBER_RANGE)
    known = _carry(known.astype(np.float64), own, 1.0) > 0
    return BendCurve(
        tick=tick[order],
        semitones=sounding,
        row=row[order],
        stated=known,
        range=width,
        misplaced=member.misplaced,
    )


def bend_steps(curve: BendCurve, tempo: TempoMap) -> BendSteps:
    """The steps of a bend curve, numbered by motion: one motion ends where the bend rests."""
    before = np.concatenate(([0.0], curve.semitones[:-1]))[: len(curve)]
    at = (np.abs(curve.semitones - before) > 1e-9).nonzero()[0]
    tick = curve.tick[at]
    motion = np.zeros(len(at), dtype=np.int64)
    if len(at) > 1:
        motion[1:] = np.cumsum(_rests(np.diff(tempo.seconds(tick))))
    before, after = before[at], curve.semitones[at]
    return BendSteps(
        at=at, tick=tick, before=before, after=after, rises=after > before, motion=motion
    )


def _rests(gap: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which gaps between steps (seconds) are rests of the bend and not its event spacing."""
    padded = np.concatenate(([np.inf], gap, [np.inf]))
    near = np.zeros(len(gap), dtype=bool)
    for neighbour in (padded[:-2], padded[2:]):
        near |= (gap <= EVEN_RATIO * neighbour) & (neighbour <= EVEN_RATIO * gap)
    return (gap >= LONG_REST_S) | ((gap >= SHORT_REST_S) & ~near)
