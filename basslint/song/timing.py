"""Where is a tick in seconds, and in bars and beats?

Source: Standard MIDI Files 1.0 (RP-001): tempo in microseconds per quarter note, 500,000 and 4/4
where the file states none; a time signature starts a new bar.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import overload

import numpy as np
from numpy.typing import NDArray

from basslint.util.columns import cell_of, differences
from basslint.util.records import record

DEFAULT_TEMPO = 500_000  # microseconds per quarter note, RP-001
DEFAULT_METER = (4, 4)
_EIGHTH = 8  # denominator of an eighth


@record(eq=False, kw_only=True)
class TempoMap:
    """Tempo changes: ``tick`` int64 [n], rising, first 0; ``usec`` int64 [n] per quarter note."""

    tick: NDArray[np.int64]
    usec: NDArray[np.int64]
    division: int
    stated: bool
    elapsed: NDArray[np.float64]  # seconds at each change, [n]

    @staticmethod
    def of(changes: Iterable[tuple[int, int]], division: int) -> TempoMap:
        """Build the map from stated changes, (tick, usec) in order; the last of a tick holds."""
        stated = dict(changes)
        usec_at = {0: DEFAULT_TEMPO} | stated
        tick = np.array([*usec_at], dtype=np.int64)
        usec = np.array([*usec_at.values()], dtype=np.int64)
        elapsed = np.zeros(len(tick))
        elapsed[1:] = (differences(tick) * usec[:-1] / (division * 1e6)).cumsum()
        return TempoMap(
            tick=tick, usec=usec, division=division, stated=bool(stated), elapsed=elapsed
        )

    @overload
    def seconds(self, tick: int) -> float: ...
    @overload
    def seconds(self, tick: NDArray[np.int64]) -> NDArray[np.float64]: ...
    def seconds(self, tick: int | NDArray[np.int64]) -> float | NDArray[np.float64]:
        """Seconds from the start of the file to each tick."""
        if len(self.tick) == 1:  # most songs keep one tempo: nothing to look up
            result = tick * int(self.usec[0]) / (self.division * 1e6)
        else:
            row = self.tick.searchsorted(tick, "right") - 1
            since = (tick - self.tick[row]) * self.usec[row]
            result = self.elapsed[row] + since / (self.division * 1e6)
        return result if isinstance(tick, np.ndarray) else float(result)

    @overload
    def ticks(self, seconds: float) -> int: ...
    @overload
    def ticks(self, seconds: NDArray[np.float64]) -> NDArray[np.int64]: ...
    def ticks(self, seconds: float | NDArray[np.float64]) -> int | NDArray[np.int64]:
        """The ticks nearest to some moments, one or a column, the inverse of `seconds`."""
        at = np.asarray(seconds)
        row = np.maximum(np.searchsorted(self.elapsed, at, side="right") - 1, 0)
        per_tick = self.usec[row] / (self.division * 1e6)
        result = (self.tick[row] + np.round((at - self.elapsed[row]) / per_tick)).astype(np.int64)
        return result if isinstance(seconds, np.ndarray) else int(result)

    def usec_at(self, tick: NDArray[np.int64]) -> NDArray[np.int64]:
        """Microseconds per quarter note in force at each tick."""
        return self.usec[np.searchsorted(self.tick, tick, side="right") - 1]

    def bpm_at(self, tick: int) -> float:
        """Quarter notes per minute in force at a tick."""
        return 60e6 / float(self.usec_at(np.array([tick]))[0])


@record(eq=False, kw_only=True)
class BarGrid:
    """The bars and beats of a song.

    ``start`` int64 [b + 1]: tick of every bar line, the last one closing the last bar.
    ``numerator``, ``denominator`` int64 [b]: meter of each bar. ``change_tick``,
    ``change_numerator``, ``change_denominator``: the meter map, first entry at 0.
    ``beats`` int64 [k + 1]: tick of every beat (one per denominator unit) and the closing line;
    ``beat_bar`` int64 [k]: bar of each beat; ``beat_in_bar`` int64 [k], from 0.
    """

    start: NDArray[np.int64]
    numerator: NDArray[np.int64]
    denominator: NDArray[np.int64]
    change_tick: NDArray[np.int64]
    change_numerator: NDArray[np.int64]
    change_denominator: NDArray[np.int64]
    beats: NDArray[np.int64]
    beat_bar: NDArray[np.int64]
    beat_in_bar: NDArray[np.int64]
    division: int
    stated: bool

    @property
    def bars(self) -> int:
        """How many bars the song has."""
        return len(self.start) - 1

    def bar_of(self, tick: NDArray[np.int64] | int) -> NDArray[np.int64]:
        """Bar of each tick, from 0; ticks after the end belong to the last bar."""
        return cell_of(self.start, np.asarray(tick))

    def beat_ticks(self, tick: NDArray[np.int64]) -> NDArray[np.float64]:
        """Ticks of a beat, in units of the denominator of the bar, at each tick, [n] or [1]."""
        one_meter = len(self.change_tick) == 1  # as most songs have: nothing to look up
        bar = np.zeros(1, dtype=np.int64) if one_meter else self.bar_of(tick)
        return np.asarray(4 * self.division / self.denominator[bar])

    def beat_of(self, tick: NDArray[np.int64] | int) -> NDArray[np.float64]:
        """Beat of each tick inside its bar, from 1.0, in units of the bar's denominator."""
        bar = self.bar_of(tick)
        unit = 4 * self.division / self.denominator[bar]
        return (np.asarray(tick) - self.start[bar]) / unit + 1.0

    def felt_beat(self, bar: NDArray[np.int64]) -> NDArray[np.int64]:
        """Ticks of the beat one taps to in each bar: dotted in compound meters, else a quarter.

        Compound: eighths or shorter in threes, two groups and more, as 6/8 and 12/8 (Open
        Music Theory).
        """
        one = len(self.change_tick) == 1
        which = bar[:1] if one else bar
        numerator, denominator = self.numerator[which], self.denominator[which]
        threes = (denominator >= _EIGHTH) & (numerator % 3 == 0) & (numerator > 3)
        felt = np.where(threes, 12 * self.division // denominator, self.division)
        return felt.repeat(len(bar)) if one else felt


def grid_size(end_tick: int, changes: list[tuple[int, int, int]], division: int) -> tuple[int, int]:
    """How many bars and beats `bar_grid` would build, without building them.

    A beat counts as many quarter notes as it lasts, one at least.
    """
    parts = _segments(end_tick, _in_order(changes), division)
    bars = sum(count for *_, count in parts)
    return bars, sum(
        count * numerator * max(4 // denominator, 1)
        for _, _, numerator, denominator, count in parts
    )


def bar_grid(end_tick: int, changes: list[tuple[int, int, int]], division: int) -> BarGrid:
    """Build the grid to cover ``end_tick`` from (tick, numerator, denominator) changes."""
    stated = bool(changes)
    ordered = _in_order(changes)
    starts: list[NDArray[np.int64]] = []
    numerators: list[NDArray[np.int64]] = []
    denominators: list[NDArray[np.int64]] = []
    closing = 0
    for tick, length, numerator, denominator, count in _segments(end_tick, ordered, division):
        starts.append(np.rint(tick + np.arange(count) * length).astype(np.int64))
        numerators.append(np.full(count, numerator, dtype=np.int64))
        denominators.append(np.full(count, denominator, dtype=np.int64))
        closing = round(tick + count * length)
    start = np.concatenate((*starts, [closing]))
    numerator_of = np.concatenate(numerators)
    denominator_of = np.concatenate(denominators)
    beat_bar = np.arange(len(numerator_of)).repeat(numerator_of)
    first = numerator_of.cumsum() - numerator_of
    in_bar = np.arange(len(beat_bar)) - first[beat_bar]
    unit = 4 * division / denominator_of[beat_bar]
    beats = np.rint(start[beat_bar] + in_bar * unit).astype(np.int64)
    inside = beats < start[beat_bar + 1]  # a meter change may cut a bar short
    change_tick, change_numerator, change_denominator = (
        np.array(column, dtype=np.int64) for column in zip(*ordered, strict=True)
    )
    return BarGrid(
        start=start,
        numerator=numerator_of,
        denominator=denominator_of,
        change_tick=change_tick,
        change_numerator=change_numerator,
        change_denominator=change_denominator,
        beats=np.concatenate((beats[inside], [closing])),
        beat_bar=beat_bar[inside],
        beat_in_bar=in_bar[inside],
        division=division,
        stated=stated,
    )


def _in_order(changes: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """The changes from tick 0 on, one at a tick: the last of equal ones."""
    meter: dict[int, tuple[int, int]] = {0: DEFAULT_METER}
    meter.update((tick, (numerator, denominator)) for tick, numerator, denominator in changes)
    return [(tick, *meter[tick]) for tick in sorted(meter)]


def _segments(
    end_tick: int, changes: list[tuple[int, int, int]], division: int
) -> list[tuple[int, float, int, int, int]]:
    """(first tick, bar length, numerator, denominator, bars) of each stretch of one meter."""
    end = max(end_tick, 1)
    result: list[tuple[int, float, int, int, int]] = []
    for row, (tick, numerator, denominator) in enumerate(changes):
        until = changes[row + 1][0] if row + 1 < len(changes) else end
        until = min(until, end)
        if until <= tick and result:
            break
        length = 4.0 * division * numerator / denominator
        result.append(
            (tick, length, numerator, denominator, max(1, -int(-(until - tick) // length)))
        )
    return result
