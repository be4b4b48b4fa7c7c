"""Does a bass part lie an eighth, a quarter, half a bar or a bar off the rest?

A clip that was dropped on the wrong beat is right in itself and wrong everywhere. So the part is
moved on trial, and each place is asked how well it meets the rest: how much of its notes the others
sound, how often it begins with a kick and with the harmony, how often it changes tone where the
chord or the bar does. It is told where another place is clearly better and fits by itself; a line
on the off-beats alone, only where no other bass stands in its place, which it may answer.

The weights were fitted by `tests/bench/fit_shifts.py` (a softmax over the nine places, the part as
written taken as right, cross-validated by song), which tells what they find. The limits were set by
hand on the same songs. A line that stands on the beats is never moved by an eighth: the beats are
where a bass belongs, and chords on the off-beats between them answer it. Of a part that stands in
its place `strays` asks whether some of its bars, or one hit, do not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.cover import sounding_clock
from basslint.hear.harmony.sources import Roots
from basslint.song.events import Notes
from basslint.song.timing import BarGrid
from basslint.util.columns import order_of, rows_where, turns, within
from basslint.util.records import record

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
_Row = tuple[int, int, int, int, int, float, float, int]  # of `Displacements`

STEPS = ("bar", "half bar", "quarter", "eighth")  # by which a part is moved on trial
FAR = (*STEPS, "sixteenth")  # by which a part may lie off, or some of it by the last two
PLACES = 1 + 2 * len(STEPS)  # as written, each later, each earlier; less where two are the same
WEIGHTS = np.array([25.8, 9.35, 5.64, 11.57, 3.15])  # log odds: see `evidence` (fitted)
LEAST_LEAD = 2.0  # log odds by which another place must beat the one as written
_LEAST_HEARD = 1.0  # … by what the other parts play, bar lines left out
_LEAST_FIT = 0.3  # share of its time that others must sound its tones there: less is no place
_FITS = 0.6  # mean support of a part that others sound often enough to be in place
_FEWEST = 24  # notes of a part: fewer tell nothing
_FEWEST_CHANGES = 12  # of tone: where a line changes less often, they weigh less
_OFF_BEAT = 0.8  # share of notes with a bass drum half a quarter before and behind: between them
_MOST = 400  # notes of a part that are asked, evenly spread: more say nothing new
_SLOTS = 4  # in a quarter: sixteenths, in which the onsets of two parts are taken to be one
_OFF = _SLOTS // 2  # sixteenths from a beat to its off-beat
_LONGEST = 4.0  # quarters of a note that count
_KICKS = (35, 36)  # bass drums of General MIDI
_EIGHTH = STEPS.index("eighth")
_ANSWERS = 0.9  # share of a line's notes on off-beats: it answers a bass that stands in its place
EXTENTS = ("part", "stretch", "hit")  # how much of a part lies off
_ON_BEATS = 0.9  # share of a line's notes on beats: it stands where others would move it to


@record(eq=False, kw_only=True)
class Displacements:
    """Bass parts, or some bars or a hit of them, that lie off their place in time, columns [d].

    ``part`` int64 index into song.parts; ``start``, ``end`` int64 ticks of its first and last note
    that does; ``ticks`` int64: how far it lies behind its place, negative before it; ``step``
    int64: which of `FAR` that is; ``certainty`` float64 0..1: the chance of that place among all,
    for a hit the share of its part's other bars that strike there; ``support`` float64 0..1: share
    of its time for which others sound its tones there, of whole parts; ``extent`` int64: which of
    `EXTENTS` lies off.
    """

    part: Ints
    start: Ints
    end: Ints
    ticks: Ints
    step: Ints
    certainty: Floats
    support: Floats
    extent: Ints

    def only(self, rows: Bools) -> Displacements:
        """The displacements that ``rows`` marks, [d]."""
        return Displacements(**{name: getattr(self, name)[rows] for name in _COLUMNS})

    def notes_of(self, row: int, bass: Notes) -> Bools:
        """Which notes of the bass lie off so, [m]."""
        inside = (bass.start >= self.start[row]) & (bass.start < self.end[row])
        whole = self.extent[row] == _WHOLE
        return np.asarray((bass.part == self.part[row]) & (inside | whole))


_COLUMNS = ("part", "start", "end", "ticks", "step", "certainty", "support", "extent")
_WHOLE, _STRETCH, _HIT = range(len(EXTENTS))


@record(eq=False)
class Surroundings:
    """What a bass is held against: the other pitched parts' notes, drums, roots and bars."""

    others: Notes
    drums: Notes
    roots: Roots
    grid: BarGrid


def hear_displacements(bass: Notes, support: Floats, around: Surroundings) -> Displacements:
    """The bass parts of ``bass`` that lie off the rest by one of `STEPS`, or what strays of them.

    ``support`` [m]: share of each bass note that others sound as well.
    """
    rows: list[_Row] = []
    strays: list[_Row] = []
    answering: set[int] = set()
    in_place = False
    marks: Bools | None = None
    for part in bass.parts if len(around.others) else ():
        mine = rows_where(bass.part == part)
        if len(mine) < _FEWEST:
            continue
        line = _Line.of(bass, mine, around.grid)
        marks = _marks(around) if marks is None else marks
        meets = _meets(line, marks)
        beats = meets @ WEIGHTS[1:]
        # what sounds elsewhere costs more, and is not asked of a part that fits or falls on beats
        if beats[1:].max() <= beats[0] and support[mine].mean() >= _FITS:
            in_place = True
            strays += _strays(bass, part, mine, marks, around.grid)
            continue
        found = _place(line, np.column_stack((_sounded(line, around.others), meets)))
        if found is not None:
            first, last = int(bass.start[mine[0]]), int(bass.end[mine].max())
            rows.append((part, first, last, *found, _WHOLE))
        else:
            in_place = True
            strays += _strays(bass, part, mine, marks, around.grid)
        if found is not None and found[1] == _EIGHTH and line.on(_OFF) >= _ANSWERS:
            answering.add(part)
    if in_place:
        rows = [row for row in rows if row[0] not in answering]
    rows += strays
    return _table(rows) if rows else _NONE


def _strays(
    bass: Notes, part: int, mine: NDArray[np.intp], marks: Bools, grid: BarGrid
) -> list[_Row]:
    """Rows of what lies off in a part that stands in its place."""
    from basslint.hear.bassline.strays import hear_strays

    slot = grid.division // _SLOTS
    return [
        (part, start, end, by * slot, len(FAR) - abs(by), sure, 0.0, _HIT if hit else _STRETCH)
        for start, end, by, sure, hit in hear_strays(bass.take(mine), marks, grid, slot)
    ]


def _table(rows: list[_Row]) -> Displacements:
    """Rows as columns."""
    table = list(zip(*rows, strict=True)) if rows else [()] * len(_COLUMNS)
    return Displacements(
        part=np.array(table[0], dtype=np.int64),
        start=np.array(table[1], dtype=np.int64),
        end=np.array(table[2], dtype=np.int64),
        ticks=np.array(table[3], dtype=np.int64),
        step=np.array(table[4], dtype=np.int64),
        certainty=np.array(table[5], dtype=np.float64),
        support=np.array(table[6], dtype=np.float64),
        extent=np.array(table[7], dtype=np.int64),
    )


_NONE = _table([])


def evidence(bass: Notes, around: Surroundings) -> tuple[Floats, Ints]:
    """How well one bass part meets the rest at each place, [p, 5], and the places in ticks, [p].

    Columns: share of its time that others sound its pitch class; shares of its notes that begin
    with a bass drum, and with the harmony; shares of its changes of tone that fall on a change of
    chord, and on a bar line.
    """
    line = _Line.of(bass, np.arange(len(bass)), around.grid)
    meets = _meets(line, _marks(around))
    return np.column_stack((_sounded(line, around.others), meets)), line.places


def _place(line: _Line, met: Floats) -> tuple[int, int, float, float] | None:
    """How far the line lies behind its place, in ticks, by which of `STEPS`, how sure, its support.

    None where it is in place.
    """
    odds = met @ WEIGHTS
    best = int(np.argmax(odds))
    heard = met[:, :-1] @ WEIGHTS[:-1]  # bar lines alone say nothing: a phrase may have a pickup
    if odds[best] - odds[0] < LEAST_LEAD or heard[best] - heard[0] < _LEAST_HEARD:
        return None
    if met[best, 0] < _LEAST_FIT or _off_beat(line, best, met[:, 1]):
        return None
    if int(line.steps[best]) == _EIGHTH and line.on(0) >= _ON_BEATS:
        return None
    chance = float(1.0 / np.exp(odds - odds[best]).sum())
    return -int(line.places[best]), int(line.steps[best]), chance, float(met[best, 0])


def _off_beat(line: _Line, best: int, kicks: Floats) -> bool:
    """Would the line be moved by an eighth from between the bass drums, where house has it?"""
    by_eighths = kicks[line.steps == _EIGHTH]
    return int(line.steps[best]) == _EIGHTH and bool(by_eighths.min() >= _OFF_BEAT)


@record(eq=False, kw_only=True)
class _Line:
    """Notes of one bass part, columns [n], with the ``places`` to try, int64 [p] ticks.

    ``steps`` int64 [p]: which of `STEPS` each place is, −1 for the first, as written. ``start``,
    ``end`` int64 ticks, ``tone`` pitch class, ``weight`` quarters, ``changes`` bool: is it another
    tone than the note before; ``slot``: ticks of a sixteenth.
    """

    start: Ints
    end: Ints
    tone: Ints
    weight: Floats
    changes: Bools
    places: Ints
    steps: Ints
    slot: int

    @classmethod
    def of(cls, bass: Notes, rows: NDArray[np.intp], grid: BarGrid) -> _Line:
        """Some notes of ``bass``, one part in order of time, thinned out where there are many."""
        tone = bass.pitch[rows].astype(np.int64) % 12
        changes = turns(tone)
        changes[:1] = False
        if len(rows) > _MOST:
            some = (np.arange(_MOST) * len(rows)) // _MOST
            rows, tone, changes = rows[some], tone[some], changes[some]
        start = bass.start[rows]
        end = np.maximum(bass.end[rows], start + 1)
        middle = grid.bars // 2  # its meter is the one that counts
        bar = int(grid.start[middle + 1] - grid.start[middle])
        far = [bar, bar // 2, grid.division, grid.division // 2]
        # in a bar of two quarters half of it is a quarter: no place is tried twice
        step = np.array([k for k, by in enumerate(far) if by not in far[:k]], dtype=np.int64)
        later = np.array(far, dtype=np.int64)[step]
        return cls(
            start=start,
            end=end,
            tone=tone,
            weight=np.minimum((end - start) / grid.division, _LONGEST),
            changes=changes,
            places=np.concatenate(([0], later, -later)),
            steps=np.concatenate(([-1], step, step)),
            slot=max(grid.division // _SLOTS, 1),
        )

    def on(self, sixteenth: int) -> float:
        """Share of its notes that begin so many sixteenths after a beat."""
        slot = (self.start + self.slot // 2) // self.slot
        return float((slot % _SLOTS == sixteenth).mean())


def _marks(around: Surroundings) -> Bools:
    """Which sixteenths of the song a bass drum, the harmony, a change of chord, a bar begins in.

    [4, s], with room for a bar before and behind the song.
    """
    grid, roots, drum = around.grid, around.roots, around.drums.pitch
    kicks = around.drums.start[(drum == _KICKS[0]) | (drum == _KICKS[1])]
    chords = roots.start[turns(roots.root)][1:]
    slot = max(grid.division // _SLOTS, 1)
    marks = np.zeros((4, int(grid.start[-1]) // slot + 2), dtype=bool)
    for mark, ticks in zip(marks, (kicks, around.others.start, chords, grid.start), strict=True):
        mark[np.minimum((ticks + slot // 2) // slot, len(mark) - 1)] = True
    return marks


def _meets(line: _Line, marks: Bools) -> Floats:
    """The columns of `evidence` that cost little, [p, 4]."""
    at = (line.start + line.slot // 2) // line.slot + (line.places // line.slot)[:, None]
    at = within(at, 0, marks.shape[1] - 1)
    changing = at[:, line.changes]
    count = max(changing.shape[1], _FEWEST_CHANGES)
    met = marks[:2].take(at, axis=1).sum(axis=2) / at.shape[1]
    changed = marks[2:].take(changing, axis=1).sum(axis=2) / count
    return np.concatenate((met, changed)).T


def _sounded(line: _Line, others: Notes) -> Floats:
    """Share of its time that ``others`` sound the line's pitch classes, at each place, [p]."""
    # a time line for each pitch class, one after the other, with room for a bar at both ends
    room = int(np.abs(line.places).max())
    length = int(max(others.end.max(), line.end.max())) + 2 * room + 1
    others = others.take(order_of(others.pitch % 12))
    offset = (others.pitch % 12).astype(np.int64) * length + room
    clock = sounding_clock(offset + others.start, offset + np.maximum(others.end, others.start + 1))
    begin = line.tone * length + room + line.start + line.places[:, None]
    share = (clock(begin + (line.end - line.start)) - clock(begin)) / (line.end - line.start)
    return np.asarray(share @ line.weight / line.weight.sum())
