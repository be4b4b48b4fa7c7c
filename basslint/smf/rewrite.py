"""How is a track written again, when some of its events move and all others must stay as written?

Source: Standard MIDI Files 1.0 (RP-001) for quantities and running status.
"""

from __future__ import annotations

from bisect import bisect_left

import numpy as np
from numpy.typing import NDArray

from basslint.errors import MendError
from basslint.smf.scan import END_OF_TRACK, META, TrackEvents
from basslint.smf.status import CHANNEL, KIND, NOTE_ON, SYSTEM
from basslint.util.records import record

KEEP = "The file was left as it is. Make this change by hand in the session."
_LONGEST_DELTA = 0x0FFFFFFF  # RP-001: the largest quantity

# Order of what is put in at one tick: a note ends before the wheel moves, and both come before
# the next note starts. The end of a note of no length comes after its own start.
OFF, BEND, ON, OFF_AFTER_ON = range(4)


@record(kw_only=True)
class NewEvent:
    """An event to write: ``body`` its data bytes, ``row`` the row it replaces (−1: a new one)."""

    tick: int
    order: int
    status: int
    body: bytes
    row: int


@record(frozen=False)
class TrackPlan:
    """What happens to one track: rows replaced where they stand, rows taken out, events put in."""

    replaced: dict[int, bytes]
    taken: set[int]
    put: list[NewEvent]


def write_track(data: bytes, track: TrackEvents, plan: TrackPlan) -> bytes:
    """Write one track: kept events and new ones merged, each with its delta and its status.

    Events that stay in their places are copied in whole stretches, once a reader would know at
    their beginning what it knew there in the file.
    """
    writer = _Writer(
        data=data,
        track=track,
        out=bytearray(),
        was_running=_channel_status(track),
        bodies=plan.replaced,
        edited=sorted(plan.replaced),
    )
    put = _placed(track, plan)
    row = 0
    for care in sorted({*put, *plan.taken, len(track)}):
        writer.copy(row, care)
        for new in put.get(care, ()):
            writer.put(new)
        if care < len(track) and care not in plan.taken:
            writer.keep(care)
        row = care + 1
    return bytes(writer.out)


def _placed(track: TrackEvents, plan: TrackPlan) -> dict[int, list[NewEvent]]:
    """The new events by the row of the track that they come before, each list in order."""
    kept = np.delete(np.arange(len(track)), sorted(plan.taken))
    places = _Positions.of(track, kept)
    order = sorted((places.before(new), new.tick, new.order, n) for n, new in enumerate(plan.put))
    result: dict[int, list[NewEvent]] = {}
    for index, _, _, n in order:
        row = int(kept[index]) if index < len(kept) else len(track)
        result.setdefault(row, []).append(plan.put[n])
    return result


@record
class _Positions:
    """Where among the kept events of a track a new one may stand. All columns [kept].

    ``tick`` int64; ``strikes`` int16: channel of an event that starts a note, −1 for others;
    ``plain`` int64: index after the last event up to this one that is no end of track.
    """

    tick: NDArray[np.int64]
    strikes: NDArray[np.int16]
    plain: NDArray[np.int64]

    @classmethod
    def of(cls, track: TrackEvents, kept: NDArray[np.int64]) -> _Positions:
        status, data1, data2 = track.status[kept], track.data1[kept], track.data2[kept]
        channel = (status & CHANNEL).astype(np.int16)
        strikes = np.where((status & KIND == NOTE_ON) & (data2 > 0), channel, np.int16(-1))
        end = (status == META) & (data1 == END_OF_TRACK)
        plain = np.maximum.accumulate(np.where(end, 0, np.arange(1, len(kept) + 1)))
        return cls(track.tick[kept], strikes, plain)

    def before(self, new: NewEvent) -> int:
        """Index into the kept events that a new event comes before."""
        if not len(self.tick):
            return 0
        first = int(self.tick.searchsorted(new.tick))
        last = min(int(self.tick.searchsorted(new.tick, side="right")), int(self.plain[-1]))
        if last:  # before the ends of track that stand at its tick
            last = min(last, max(first, int(self.plain[last - 1])))
        if new.order in (ON, OFF_AFTER_ON):
            return last
        struck = (self.strikes[first:last] == new.status & CHANNEL).nonzero()[0]
        return first + int(struck[0]) if len(struck) else last


def _channel_status(track: TrackEvents) -> NDArray[np.uint8]:
    """The last channel status at or before each row, [n]; 0 where there is none."""
    channel = np.where(track.status < SYSTEM, np.arange(len(track)), -1)
    latest = np.maximum.accumulate(channel) if len(track) else channel
    return np.where(latest < 0, 0, track.status[latest]).astype(np.uint8)


@record(frozen=False, kw_only=True)
class _Writer:
    """Writes events one after the other and knows what a reader would know at each. ``bodies``:
    new data bytes of events that are edited in their places, by the rows ``edited``, rising."""

    data: bytes
    track: TrackEvents
    out: bytearray
    was_running: NDArray[np.uint8]  # what a reader of the file knows after each row
    bodies: dict[int, bytes]
    edited: list[int]
    tick: int = 0
    running: int = 0  # the last channel status, 0 = none
    cancelled: bool = False  # a meta or SysEx event came after it (RP-001)

    def copy(self, row: int, stop: int) -> None:
        """Write rows that stay in their places, from ``row`` up to ``stop``."""
        track = self.track
        while row < stop:
            self.keep(row)
            row += 1
            if self.tick == track.tick[row - 1] and self.running == self.was_running[row - 1]:
                break  # from here on every byte means what it meant
        if row < stop:
            begin = int(track.delta_at[row])
            shift = len(self.out) - begin
            self.out += self.data[begin : int(track.stop[stop - 1])]
            for one in self.edited[bisect_left(self.edited, row) : bisect_left(self.edited, stop)]:
                body, end = self.bodies[one], int(track.stop[one]) + shift
                self.out[end - len(body) : end] = body  # data bytes are an event's last
            self.tick = int(track.tick[stop - 1])
            self.running = int(self.was_running[stop - 1])
            self.cancelled = int(track.status[stop - 1]) >= SYSTEM

    def keep(self, row: int) -> None:
        """Write an event of the file, with new data bytes where it is edited in its place."""
        track, body = self.track, self.bodies.get(row)
        # an event put in after the end of the track pushes that end on
        self._delta(row, max(int(track.tick[row]), self.tick))
        at, stop, status = int(track.at[row]), int(track.stop[row]), int(track.status[row])
        if status >= SYSTEM:
            self.out += self.data[at:stop]
            self.cancelled = True
            return
        ran = self.data[at] < 0x80
        self._status(status, ran and self._may_run(status, row))
        self.out += self.data[at if ran else at + 1 : stop] if body is None else body

    def put(self, new: NewEvent) -> None:
        """Write a new or moved event, a moved one in the status form that it had."""
        self._delta(new.row, new.tick)
        ran = new.row >= 0 and self.data[int(self.track.at[new.row])] < 0x80
        self._status(new.status, ran and self._may_run(new.status, -1))
        self.out += new.body

    def _delta(self, row: int, tick: int) -> None:
        delta = tick - self.tick
        if delta > _LONGEST_DELTA:
            raise MendError(f"A gap of {delta:,} ticks is longer than MIDI can say.", KEEP)
        self.tick = tick
        if row >= 0:
            before = int(self.track.tick[row - 1]) if row else 0
            if int(self.track.tick[row]) - before == delta:  # as written, padding and all
                self.out += self.data[int(self.track.delta_at[row]) : int(self.track.at[row])]
                return
        self.out += _quantity(delta)

    def _may_run(self, status: int, row: int) -> bool:
        """May an event go without its status byte here? An untouched lax one may stay lax."""
        if self.running != status:
            return False
        return not self.cancelled or (row > 0 and int(self.track.status[row - 1]) >= SYSTEM)

    def _status(self, status: int, runs: bool) -> None:
        if not runs:
            self.out.append(status)
        self.running = status
        self.cancelled = False


def _quantity(value: int) -> bytes:
    """A variable-length quantity in its shortest form (RP-001)."""
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(value & 0x7F | 0x80)
    return bytes(reversed(out))


def is_on(track: TrackEvents, row: int) -> bool:
    return int(track.status[row]) & KIND == NOTE_ON and int(track.data2[row]) > 0
