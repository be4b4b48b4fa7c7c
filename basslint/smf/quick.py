"""At which byte does each event of a track begin, found for all of them at once?

Whatever its delta time and its status, a message of two data bytes holds three bytes below 0x80:
the last one of its delta time and its data. So where such messages follow each other, every third
of those bytes ends a delta time; only what stands between such runs is looked at one by one. The
finder gives up on anything odd and leaves it to `careful`, with which it agrees.

Source: Standard MIDI Files 1.0 (RP-001); MIDI 1.0 detailed specification for the lengths of channel
messages.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.smf.chunks import VARIABLE_LENGTH_BYTES
from basslint.smf.positions import LONG, PAD, Positions, looked_up
from basslint.smf.status import META, PROGRAM, SYSTEM

_WINDOW = 1 << 17  # bytes looked at in one go, which bounds the memory


def quick(
    buffer: NDArray[np.uint8], begin: int, end: int, room: int, index: int, base: int
) -> Positions | None:
    """The events in [``begin``, ``end``), or None for anything odd.

    Raises `TooLarge` where there are more than ``room``. ``index`` names the track, ``base`` is
    added to bytes that are reported.
    """
    finder = _Finder(buffer, end)
    stop = finder.track(begin, end, room)
    places = finder.positions([begin], [finder.count])
    if not _sound(places):
        return None
    if len(places.at) > room:
        from basslint.smf.careful import too_many

        raise too_many(index, base + int(places.delta_at[room]))
    return places if stop == end else None


def quick_tracks(
    buffer: NDArray[np.uint8], spans: Sequence[tuple[int, int]], room: int
) -> tuple[Positions, list[int]] | None:
    """The events of all tracks of a file, one after another, and how many each has.

    ``spans``: first byte of each track and the one after its last. None for anything odd, and for
    more than ``room``: then each is to be read alone, to say of which track it is.
    """
    finder = _Finder(buffer, spans[-1][1] if spans else 0)
    counts: list[int] = []
    for begin, end in spans:
        before = finder.count
        if finder.track(begin, end, room) != end or finder.count > room:
            return None
        counts.append(finder.count - before)
    places = finder.positions([begin for begin, _ in spans], counts)
    return (places, counts) if _sound(places) else None


def _sound(places: Positions) -> bool:
    """Whether each event that was found does begin where the one before ends."""
    # of all at once: does any byte have its highest bit, do all have it, is any number below 0?
    data = np.bitwise_or.reduce(places.data1 | places.data2)
    status, delta = np.bitwise_and.reduce(places.status), np.bitwise_or.reduce(places.delta)
    return bool(data < 0x80 and status >= 0x80 and delta >= 0)


class _Finder:
    """Finds where events begin, window by window, as long as nothing odd is among them."""

    def __init__(self, buffer: NDArray[np.uint8], end: int) -> None:
        self.buffer, self.bytes, self.end = buffer, buffer.data, end
        self.count = 0  # events so far
        self.at: list[NDArray[np.int64]] = []  # where they begin, window by window
        self.short: list[slice] = []  # rows of those that hold one data byte
        self.long: list[tuple[int, int, int]] = []  # meta and SysEx: row, payload, byte after it
        self.running = False  # running status stands for one data byte
        self.high = 0  # byte after the window
        self.small = np.zeros(0, dtype=np.int64)  # bytes below 0x80 in it: the rows of the window
        self.places = self.small.data  # the same, looked up one by one
        self.found = [self.small]  # those that end the delta times of its events
        self.others: list[int] = []  # rows after which an event of another kind may begin
        self.stated: list[int] = []  # rows after which an event with a status may begin

    def track(self, begin: int, end: int, room: int) -> int:
        """Find the events of a track; the byte after the last of them, −1 where one is odd."""
        self.running = False
        while 0 <= begin < end and self.count <= room:
            if begin > self.high - VARIABLE_LENGTH_BYTES:
                self._look(begin)
            begin = self._walk(begin, min(self.high, end))
        return begin

    def positions(self, begins: Sequence[int], counts: Sequence[int]) -> Positions:
        """What the events of all tracks hold, by the first byte and the number of each."""
        self._keep()
        at = self.at[0] if len(self.at) == 1 else np.concatenate(self.at)
        first = self.buffer.take(at)
        stop = at + 2 + (first >= 0x80)
        for rows in self.short:
            stop[rows] -= 1
        payload_at = stop.copy()
        for row, payload, after in self.long:
            payload_at[row], stop[row] = payload, after
        delta_at = np.empty_like(stop)
        delta_at[1:] = stop[:-1]
        row = 0
        for begin, count in zip(begins, counts, strict=True):
            delta_at[row : row + min(count, 1)] = begin
            row += count
        return looked_up(self.buffer, delta_at, at, first, stop, payload_at, counts)

    def _look(self, low: int) -> None:
        """Look at the window that begins at a byte."""
        if self.high:
            self._keep()
        self.high = min(low + _WINDOW, self.end)
        window = self.buffer[low : self.high + PAD]
        small = window < 0x80
        self.small = small.nonzero()[0] + low
        self.places = self.small.data
        self.found = [self.small[:0]]
        other = ((window & 0xE0) == PROGRAM) | (window >= SYSTEM)
        before = (small[:-1] & other[1:]).nonzero()[0] + low
        self.others = [*self.small.searchsorted(before).tolist(), len(self.small)]
        self.stated = []

    def _keep(self) -> None:
        """Keep what was found in the window."""
        self.at.append(np.concatenate(self.found) + 1)

    def _walk(self, begin: int, end: int) -> int:
        """Find the events in [``begin``, ``end``) of the window; gives what `track` gives."""
        row, until = bisect_left(self.places, begin), bisect_left(self.places, end)
        stop = -1
        while row < until:
            if self.running and self.bytes[self.places[row] + 1] < 0x80:
                stop, row = self._of_one_byte(row, until)
                continue
            other = _first_of(self.others, row, until, 3)
            if other > row:
                stop = self._of_two_bytes(row, other)
            if other == until:
                return stop
            stop, row = self._with_status(other)
        return stop

    def _of_two_bytes(self, row: int, until: int) -> int:
        """Find messages of two data bytes each; the byte after the last of them."""
        events = (until - row + 2) // 3
        last = self.places[row + 3 * (events - 1)] + 1
        self.found.append(self.small[row:until:3])
        self.count += events
        self.running = False
        return last + 2 + (self.bytes[last] >= 0x80)

    def _of_one_byte(self, row: int, until: int) -> tuple[int, int]:
        """Find messages that are one data byte each; the byte after the last, and the next row."""
        if not self.stated:
            stated = (self.buffer[self.small[:-1] + 1] >= 0x80).nonzero()[0]
            self.stated = [*stated.tolist(), len(self.small)]
        until = _first_of(self.stated, row, until, 2)
        events = (until - row + 1) // 2
        self.found.append(self.small[row:until:2])
        self.short.append(slice(self.count, self.count + events))
        self.count += events
        return self.places[row + 2 * (events - 1)] + 2, row + 2 * events

    def _with_status(self, row: int) -> tuple[int, int]:
        """Find an event of another kind; the byte after it, −1 if it is odd, and the next row."""
        at = self.places[row] + 1
        status = self.bytes[at]
        self.found.append(self.small[row : row + 1])
        self.count += 1
        if status < SYSTEM:
            self.running = True
            self.short.append(slice(self.count - 1, self.count))
            return at + 2, row + 2
        length, payload = self._quantity(at + 1 + (status == META))
        stop = payload + length
        if length < 0 or status not in LONG or stop > self.end:
            return -1, len(self.small)
        self.long.append((self.count - 1, payload, stop))
        return stop, bisect_left(self.places, stop)

    def _quantity(self, at: int) -> tuple[int, int]:
        """One quantity, as `quantities` gives many."""
        value = 0
        for place in range(at, at + VARIABLE_LENGTH_BYTES):
            value = value << 7 | self.bytes[place] & 0x7F
            if self.bytes[place] < 0x80:
                return value, place + 1
        return -1, at


def _first_of(rows: list[int], begin: int, end: int, step: int) -> int:
    """The first of some rows that comes whole steps after ``begin``, at most ``end``."""
    place = bisect_left(rows, begin)
    while rows[place] < end and (rows[place] - begin) % step:
        place += 1
    return min(rows[place], end)
