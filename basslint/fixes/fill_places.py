"""How is a fill brought to the end of its phrase, and how does a phrase get air before the next?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.charting import Chart
from basslint.findings import Edit, Fix
from basslint.fixes.base import fixer, repitch, retime
from basslint.readings.phrase_ends import four_bar_ends

Ticks = NDArray[np.int64]
BEND, CONTROLLER = 0xE0, 0xB0  # status nibbles, MIDI 1.0
PORTAMENTO = (5, 65, 84)  # controllers, MIDI 1.0
NEAR = 4  # phrase ends that are tried: a fill moved further is another fill


@dataclass(frozen=True, slots=True)
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
    does="swaps the fill with what its part plays at the nearest phrase end that has no fill",
)
def to_phrase_end(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear. Where the fill ends on a bar line, all that its parts play in that bar goes with it.

    A bass fill is moved by the interval between the two chords' roots; where one of them is not
    known, where the wheel or portamento moves in either place, or where no phrase end is free, no
    fix is offered.
    """
    fills, notes = chart.fills, chart.song.notes
    parts = np.unique(notes.part[fills.notes[row]])
    for end in _nearest_first(four_bar_ends(chart), int(fills.end[row])):
        swap = _swap(chart, row, end)
        if swap is None or not _free(chart, row, parts, swap) or _steered(chart, parts, swap):
            continue
        shift = 0 if fills.drums[row] else _transposition(chart, swap)
        if shift is None:
            continue
        edits = _swapped(chart, parts, swap, shift)
        bar = int(chart.song.grid.bar_of(end - 1)) + 1
        return Fix(f"Move the fill to the end of bar {bar}", "by-ear", edits)
    return None


@fixer("air", of="bass-note", does="ends the note a little before the phrase that follows")
def air(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: ``air_beats`` (a sixteenth by default) before the next bass note of its part."""
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


def _nearest_first(ends: Ticks, tick: int) -> list[int]:
    return [int(e) for e in ends[np.argsort(np.abs(ends - tick), kind="stable")[:NEAR]]]


def _swap(chart: Chart, row: int, end: int) -> _Swap | None:
    """The stretches to swap so that fill ``row`` comes to end at ``end``; None where they overlap.

    Whole bars where the fill ends on a bar line and both bars are of one length, else the fill.
    """
    fills, lines = chart.fills, chart.song.grid.start
    start, until = int(fills.start[row]), int(fills.end[row])
    line = int(lines[np.argmin(np.abs(lines - until))])
    if abs(line - until) <= fills.step[row] * chart.song.division / 2:
        until = line
        first = int(lines[chart.song.grid.bar_of(start)])
        if end - (line - first) in lines:
            start = first
    swap = _Swap(start, until, end - (until - start))
    apart = swap.to >= swap.end or end <= swap.start
    return swap if apart and swap.to >= 0 else None


def _free(chart: Chart, row: int, parts: NDArray[np.int32], swap: _Swap) -> bool:
    """No other fill of these parts stands in either stretch."""
    fills = chart.fills
    other = np.isin(fills.part, parts) & (np.arange(len(fills)) != row)
    here = (fills.start < swap.end) & (fills.end > swap.start)
    there = (fills.start < swap.to + swap.length) & (fills.end > swap.to)
    return not np.any(other & (here | there))


def _steered(chart: Chart, parts: NDArray[np.int32], swap: _Swap) -> bool:
    """Whether wheel or portamento controllers of these parts' channels move in either stretch."""
    changes = chart.song.changes
    channels = [chart.song.parts[p].channel for p in parts.tolist()]
    steering = (changes.kind == BEND) | (
        (changes.kind == CONTROLLER) & np.isin(changes.number, PORTAMENTO)
    )
    within = (changes.tick >= swap.start) & (changes.tick < swap.end)
    within |= (changes.tick >= swap.to) & (changes.tick < swap.to + swap.length)
    return bool(np.any(steering & within & np.isin(changes.channel, channels)))


def _transposition(chart: Chart, swap: _Swap) -> int | None:
    """Semitones from the root where the fill is to the root where it goes, the shorter way."""
    middle = np.array([swap.end, swap.to + swap.length], dtype=np.int64) - swap.length // 4 - 1
    row = chart.root_at(middle)
    if (row < 0).any() or (chart.roots.root[row] < 0).any():
        return None
    here, there = (int(root) for root in chart.roots.root[row])
    return (there - here + 6) % 12 - 6


def _swapped(chart: Chart, parts: NDArray[np.int32], swap: _Swap, shift: int) -> tuple[Edit, ...]:
    """Edits that swap the stretches; notes are cut where they would ring out of their stretch."""
    notes = chart.song.notes
    mine = np.isin(notes.part, parts)
    edits: list[Edit] = []
    for begin, by, lift in (
        (swap.start, swap.to - swap.start, shift),
        (swap.to, swap.start - swap.to, -shift),
    ):
        until = begin + swap.length
        for note in np.flatnonzero(mine & (notes.start >= begin) & (notes.start < until)).tolist():
            start, end = int(notes.start[note]) + by, min(int(notes.end[note]), until) + by
            if end == int(notes.end[note]) + by:
                edits.append(retime(chart, note, "move", start))
            else:
                edits += [retime(chart, note, "start", start), retime(chart, note, "end", end)]
            if lift:
                edits.append(repitch(chart, note, int(notes.pitch[note]) + lift))
        ringing = mine & (notes.start < begin) & (notes.end > begin)
        edits += [retime(chart, n, "end", begin) for n in np.flatnonzero(ringing).tolist()]
    return tuple(edits)
