"""How is a track written again, when some of its events move and all others must stay as written?

Source: Standard MIDI Files 1.0 (RP-001) for quantities and running status.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

from basslint.errors import MendError
from basslint.smf.scan import END_OF_TRACK, META, TrackEvents

KEEP = "The file was left as it is. Make this change by hand in the session."
_LONGEST_DELTA = 0x0FFFFFFF  # RP-001: the largest quantity

# Order of what is put in at one tick: a note ends before the wheel moves, and both come before
# the next note starts. The end of a note of no length comes after its own start.
OFF, BEND, ON, OFF_AFTER_ON = range(4)


@dataclass(frozen=True, slots=True)
class NewEvent:
    """An event to write: ``body`` its data bytes, ``row`` the row it replaces (−1: a new one)."""

    tick: int
    order: int
    status: int
    body: bytes
    row: int


@dataclass(slots=True)
class TrackPlan:
    """What happens to one track: rows replaced where they stand, rows taken out, events put in."""

    replaced: dict[int, bytes]
    taken: set[int]
    put: list[NewEvent]


def write_track(data: bytes, track: TrackEvents, plan: TrackPlan) -> bytes:
    """Write one track: kept events and new ones merged, each with its delta and its status."""
    kept = [row for row in range(len(track)) if row not in plan.taken]
    ticks = track.tick[kept].tolist()
    ended = len(kept)  # where the closing end-of-track events begin
    while ended and _is_end(track, kept[ended - 1]):
        ended -= 1
    placed = sorted(
        (
            (_place(track, kept, ticks, ended, new), new.tick, new.order, n, new)
            for n, new in enumerate(plan.put)
        ),
    )
    out = bytearray()
    writer = _Writer(data, track, out)
    following = 0
    for index, row in enumerate(kept):
        while following < len(placed) and placed[following][0] == index:
            writer.put(placed[following][4])
            following += 1
        writer.keep(row, plan.replaced.get(row))
    for *_, new in placed[following:]:
        writer.put(new)
    return bytes(out)


def _is_end(track: TrackEvents, row: int) -> bool:
    return int(track.status[row]) == META and int(track.data1[row]) == END_OF_TRACK


def _place(track: TrackEvents, kept: list[int], ticks: list[int], ended: int, new: NewEvent) -> int:
    """Index into ``kept`` that a new event comes before."""
    last = min(bisect_right(ticks, new.tick), ended)
    while last and ticks[last - 1] == new.tick and _is_end(track, kept[last - 1]):
        last -= 1
    if new.order in (ON, OFF_AFTER_ON):
        return last
    for index in range(bisect_left(ticks, new.tick), last):
        row = kept[index]
        if is_on(track, row) and int(track.status[row]) & 0x0F == new.status & 0x0F:
            return index
    return last


@dataclass(slots=True)
class _Writer:
    """Writes events one after the other and knows what a reader would know at each."""

    data: bytes
    track: TrackEvents
    out: bytearray
    tick: int = 0
    running: int = 0  # the last channel status, 0 = none
    cancelled: bool = False  # a meta or SysEx event came after it (RP-001)

    def keep(self, row: int, body: bytes | None) -> None:
        """Write an event of the file, with new data bytes where it was edited in its place."""
        track = self.track
        # an event put in after the end of the track pushes that end on
        self._delta(row, max(int(track.tick[row]), self.tick))
        at, stop, status = int(track.at[row]), int(track.stop[row]), int(track.status[row])
        if status >= 0xF0:
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
        return not self.cancelled or (row > 0 and int(self.track.status[row - 1]) >= 0xF0)

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
    return int(track.status[row]) & 0xF0 == 0x90 and int(track.data2[row]) > 0
