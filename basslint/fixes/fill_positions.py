"""How is a fill brought to the end of its phrase, and how does a phrase get air before the next?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.base import fixer, repitch, retime
from basslint.fixes.edits import Edit, Fix
from basslint.hear.chart import Chart
from basslint.hear.fills.steps import TOLERANCE_MS
from basslint.readings.fill_copies import copies
from basslint.readings.fill_doubles import drum_doubles
from basslint.readings.kicks import kick_ticks
from basslint.readings.phrase_ends import ends_ahead, four_bar_ends
from basslint.smf.status import BEND, CONTROLLER
from basslint.util.columns import distinct, found_in
from basslint.util.records import record

Ticks = NDArray[np.int64]
PORTAMENTO = (5, 65, 84)  # controllers, MIDI 1.0
GRID = 4  # places in a quarter note that a fill may move by: sixteenths, so its feel comes along


@record
class _Swap:
    """Two stretches of equal length that change places: [start, end) and [to, to + length)."""

    start: int
    end: int
    to: int

    @property
    def length(self) -> int:
        return self.end - self.start


@fixer(
    "to-phrase-end",
    of="fill",
    does="swaps the fill with what its voices play at the end of its own four bars",
)
def to_phrase_end(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Swap a fill with what its voices play at the end of its four bars, by ear.

    Where the fill ends on a bar line, all that its voices play in that bar goes with it, unless it
    is a fill of the kick, which goes alone.

    The voices are those of its hits: of a drum part the drums it strikes, not the whole kit. It
    moves by whole sixteenths only, so that no hit leaves the grid, and to the end of its own
    four bars only: further off it would be another fill.

    Notes of a bass go by the interval between the chords' roots of their old and new places, save
    under a pedal, which stays. Where a root is not known, where the wheel or portamento moves in
    either place, where that end is not free, or where a roll of drum and bass would be torn apart
    since only one of the two can go, no fix is offered.
    """
    if copies(chart)[row] > parameters.get("returns", np.inf):
        return None  # a figure that comes back is no fill that lost its way
    moved = _moved(chart, row)
    if moved is None or any(_moved(chart, other) is None for other in _doubles(chart, row)):
        return None
    edits, end = moved
    bar = int(chart.song.grid.bar_of(end - 1)) + 1
    return Fix(f"Move the fill to the end of bar {bar}", "by-ear", edits)


def _doubles(chart: Chart, row: int) -> list[int]:
    """The fills that are one roll of drum and bass with fill ``row``."""
    doubles = drum_doubles(chart)
    if chart.fills.drums[row]:
        return np.flatnonzero(doubles == row).tolist()
    return [int(doubles[row])] if doubles[row] >= 0 else []


def _moved(chart: Chart, row: int) -> tuple[tuple[Edit, ...], int] | None:
    """Edits that bring fill ``row`` alone to the end of its four bars, and that end in ticks."""
    fills, notes = chart.fills, chart.song.notes
    parts = distinct(notes.part[fills.notes[row]])
    middle = (fills.start[row : row + 1] + fills.end[row : row + 1]) // 2
    end = int(ends_ahead(middle, four_bar_ends(chart))[0])
    swap = _swap(chart, row, end) if end >= 0 else None
    if swap is None or not _free(chart, row, parts, swap) or _steered(chart, parts, swap):
        return None
    edits = _swapped(chart, _voices(chart, row), swap, bool(fills.drums[row]))
    return (edits, end) if edits else None


@fixer("air", of="bass-note", does="ends the note a little before the phrase that follows")
def air(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """End a note ``air_beats`` (a sixteenth by default) before the next of its part, by ear."""
    bass = chart.bass
    later = bass.start[(bass.part == bass.part[row]) & (bass.start > bass.start[row])]
    if not len(later):
        return None
    gap = round(parameters.get("air_beats", 0.25) * chart.song.division)
    end = int(later[0]) - gap
    if end <= int(bass.start[row]):
        return None
    edit = retime(chart, int(chart.bass_rows[row]), "end", end)
    return Fix("Let the bass breathe before the repeat", "by-ear", (edit,))


def _voices(chart: Chart, row: int) -> NDArray[np.bool_]:
    """Whether each note of the song is of a voice of the fill: of its parts, and of its drums."""
    notes, hits = chart.song.notes, chart.fills.notes[row]
    mine = found_in(notes.part, notes.part[hits])
    if chart.fills.drums[row]:
        mine &= found_in(notes.pitch, notes.pitch[hits])
    return np.asarray(mine)


def _swap(chart: Chart, row: int, end: int) -> _Swap | None:
    """The stretches to swap so that fill ``row`` comes to end at ``end``; None where they overlap.

    Whole bars where the fill ends on a bar line and both bars are of one length, else the fill; of
    the kick the fill alone, for the bass sits on the kicks of its own bar.
    """
    fills, lines = chart.fills, chart.song.grid.start
    kicks = found_in(chart.song.notes.start[fills.notes[row]], kick_ticks(chart)).all()
    start, until = int(fills.start[row]), int(fills.end[row])
    line = int(lines[np.argmin(np.abs(lines - until))])
    if abs(line - until) <= fills.step[row] * chart.song.division / 2:
        until = line
        first = int(lines[chart.song.grid.bar_of(start)])
        if end - (line - first) in lines and not (fills.drums[row] and kicks):
            start = first
    sixteenth = chart.song.division / GRID
    by = end - until
    if abs(by / sixteenth - round(by / sixteenth)) > 1e-9:
        # it ends a little off the grid: what is played so stays so, by the same feel
        until = end - round(round(by / sixteenth) * sixteenth)
        if abs(until - int(fills.end[row])) > fills.step[row] * chart.song.division / 2:
            return None
    if (end - until) % sixteenth:
        return None
    swap = _Swap(start, until, end - (until - start))
    apart = swap.to >= swap.end or end <= swap.start
    return swap if apart and swap.to >= 0 else None


def _free(chart: Chart, row: int, parts: NDArray[np.int32], swap: _Swap) -> bool:
    """No other fill of these parts has a hit in either stretch.

    One that a hand played a little late, so that its last step spills over the bar line, has none.
    """
    fills, start = chart.fills, chart.song.notes.start
    early = _ticks(chart, swap.start)  # a hit just before a stretch belongs to it
    first = fills.start + early
    last = np.array([start[rows[-1]] for rows in fills.notes], dtype=np.int64) + early
    other = found_in(fills.part, parts) & (np.arange(len(fills)) != row)
    here = (first < swap.end) & (last >= swap.start)
    there = (first < swap.to + swap.length) & (last >= swap.to)
    return not np.any(other & (here | there))


def _steered(chart: Chart, parts: NDArray[np.int32], swap: _Swap) -> bool:
    """Whether pitch bend or portamento of these parts' channels moves in either stretch."""
    changes = chart.song.changes
    channels = [chart.song.parts[p].channel for p in parts.tolist()]
    steering = (changes.kind == BEND) | (
        (changes.kind == CONTROLLER) & found_in(changes.number, PORTAMENTO)
    )
    within = (changes.tick >= swap.start) & (changes.tick < swap.end)
    within |= (changes.tick >= swap.to) & (changes.tick < swap.to + swap.length)
    return bool(np.any(steering & within & found_in(changes.channel, channels)))


@record(eq=False)
class _Moved:
    """Notes of one stretch in their new places: rows of song.notes, ticks, semitones; columns."""

    rows: NDArray[np.intp]
    start: Ticks
    end: Ticks
    lift: Ticks


def _swapped(
    chart: Chart, mine: NDArray[np.bool_], swap: _Swap, drums: bool
) -> tuple[Edit, ...] | None:
    """Edits that swap what the notes ``mine`` play in the stretches.

    None where a chord that a note must fit is not known.
    A note that a hand struck just before a stretch belongs to it. Notes are cut where they would
    ring out of their stretch, and those that ring into one, where its new first note starts.
    """
    notes = chart.song.notes
    early = _ticks(chart, swap.start)
    stretches = ((swap.start, swap.to), (swap.to, swap.start))
    moved: list[_Moved] = []
    for begin, to in stretches:
        inside = (notes.start >= begin - early) & (notes.start < begin + swap.length - early)
        place = _place(chart, np.flatnonzero(mine & inside), begin, to, swap.length, drums)
        if place is None:
            return None
        moved.append(place)
    edits: list[Edit] = []
    for (begin, _), leaving, coming in zip(stretches, moved, reversed(moved), strict=True):
        edits += _edits(chart, leaving)
        first = min([begin, *coming.start.tolist()])
        ringing = mine & (notes.start < begin - early) & (notes.end > first)
        ringing &= notes.start < first
        edits += [retime(chart, n, "end", first) for n in np.flatnonzero(ringing).tolist()]
    return tuple(edits)


def _place(
    chart: Chart, rows: NDArray[np.intp], begin: int, to: int, length: int, drums: bool
) -> _Moved | None:
    """Where the notes of a stretch at ``begin`` come to stand when it goes to ``to``."""
    notes, by = chart.song.notes, to - begin
    end = np.minimum(notes.end[rows], begin + length) + by
    if drums:
        return _Moved(rows, np.maximum(notes.start[rows] + by, 0), end, np.zeros_like(end))
    lift = _lifts(chart, rows, by)
    if lift is None:
        return None
    start = _on_kicks(chart, notes.start[rows], np.maximum(notes.start[rows] + by, 0))
    apart = notes.end[rows][:-1] <= notes.start[rows][1:]  # rows are in order of start
    end[:-1] = np.where(apart, np.minimum(end[:-1], start[1:]), end[:-1])
    return _Moved(rows, start, end, lift)


def _lifts(chart: Chart, rows: NDArray[np.intp], by: int) -> Ticks | None:
    """Semitones, the shorter way, from the root under each note to the root where it goes."""
    notes, pattern = chart.song.notes, chart.pattern
    middle = (notes.start[rows] + notes.end[rows]) // 2
    here, there = chart.root_at(middle), chart.root_at(middle + by)
    if (here < 0).any() or (there < 0).any():
        return None
    old = chart.roots.root[here].astype(np.int64)
    new = chart.roots.root[there].astype(np.int64)
    if (old < 0).any() or (new < 0).any():
        return None
    line = pattern.row_at(chart.song.grid.bar_of(middle))
    pedal = np.array([row >= 0 and pattern.kind[row] == "root-pedal" for row in line.tolist()])
    return np.where(pedal, 0, (new - old + 6) % 12 - 6).astype(np.int64)


def _on_kicks(chart: Chart, before: Ticks, after: Ticks) -> Ticks:
    """Where a note sat on a kick, it sits on the kick of its new place, if a kick is there."""
    kicks = kick_ticks(chart)
    if not len(kicks) or not len(before):
        return after
    near = [kicks[np.argmin(np.abs(kicks[None, :] - t[:, None]), axis=1)] for t in (before, after)]
    close = np.array([_ticks(chart, int(t)) for t in after.tolist()])
    together = (np.abs(near[0] - before) <= close) & (np.abs(near[1] - after) <= close)
    return np.where(together, near[1], after)


def _edits(chart: Chart, moved: _Moved) -> list[Edit]:
    notes = chart.song.notes
    edits: list[Edit] = []
    columns = (moved.rows, moved.start, moved.end, moved.lift)
    for note, start, end, lift in zip(*(c.tolist() for c in columns), strict=True):
        if end - start == notes.end[note] - notes.start[note]:
            edits.append(retime(chart, note, "move", start))
        else:
            edits += [retime(chart, note, "start", start), retime(chart, note, "end", end)]
        if lift:
            edits.append(repitch(chart, note, int(notes.pitch[note]) + lift))
    return edits


def _ticks(chart: Chart, tick: int) -> int:
    """Ticks of human timing at a place: what is no further off stands at one place."""
    seconds = TOLERANCE_MS / 1000
    return round(seconds * chart.song.tempo.bpm_at(tick) / 60 * chart.song.division)
