"""What do the channel messages of a file say: its notes, and what steers them?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.smf.scan import Scan
from basslint.smf.status import (
    BEND,
    CHANNEL,
    CONTROLLER,
    KEY_PRESSURE,
    KIND,
    NOTE_ON,
    PROGRAM,
    SYSTEM,
)
from basslint.song.events import Changes, Notes
from basslint.song.pairing import pair_notes
from basslint.util.columns import order_of
from basslint.util.records import record


@record(frozen=False)
class Steering:
    """What there is among the channel messages other than notes.

    ``controllers``: their numbers; ``bends``: is there any pitch bend? ``changes``: the messages
    themselves, once they have been asked for: drawn curves are as many as notes, and mostly of
    controllers that nothing hears.
    """

    controllers: frozenset[int]
    bends: bool
    changes: Changes | None = None

    @staticmethod
    def of(changes: Changes) -> Steering:
        """What there is among some changes."""
        return Steering(*_kinds(changes.kind, changes.number), changes)


@record(eq=False, kw_only=True)
class _Events:
    """The events of all tracks, one track after another; columns [n] as in `TrackEvents`, and
    ``track`` int32 and ``row`` int64, where each stands."""

    tick: NDArray[np.int64]
    status: NDArray[np.uint8]
    data1: NDArray[np.int16]
    data2: NDArray[np.int16]
    track: NDArray[np.int32]
    row: NDArray[np.int64]

    @staticmethod
    def of(scan: Scan) -> _Events:
        sizes = np.array([len(t) for t in scan.tracks])
        track = np.arange(len(sizes), dtype=np.int32).repeat(sizes)
        return _Events(
            tick=np.concatenate([t.tick for t in scan.tracks]),
            status=np.concatenate([t.status for t in scan.tracks]),
            data1=np.concatenate([t.data1 for t in scan.tracks]).astype(np.int16),
            data2=np.concatenate([t.data2 for t in scan.tracks]).astype(np.int16),
            track=track,
            row=np.arange(len(track)) - (sizes.cumsum() - sizes).repeat(sizes),
        )

    def changes(self) -> NDArray[np.intp]:
        """Rows of the channel messages other than notes, rising."""
        return ((self.status >= KEY_PRESSURE) & (self.status < SYSTEM)).nonzero()[0]


def read_channels(
    scan: Scan, end_tick: int, warnings: list[str]
) -> tuple[Notes, Changes | None, Steering]:
    """Gather the channel messages of all tracks: notes, changes of programs, if any, and what else
    there is; ``Notes.part`` holds track*16+channel for now."""
    events = _Events.of(scan)
    keys = (events.status < KEY_PRESSURE).nonzero()[0]
    status, velocity = events.status.take(keys), events.data2.take(keys)
    notes = pair_notes(
        events.tick[keys],
        (status >= NOTE_ON) & (velocity > 0),
        events.data1.take(keys),
        velocity,
        events.track[keys] * 16 + (status & CHANNEL),
        events.row[keys],
        end_tick,
        warnings,
    )
    rows = events.changes()
    kind = events.status.take(rows) & KIND
    of_programs = rows[kind == PROGRAM]
    programs = _in_time(events, of_programs) if len(of_programs) else None
    return notes, programs, Steering(*_kinds(kind, events.data1.take(rows)))


def changes_of(scan: Scan) -> Changes:
    """All channel messages of a file but its notes."""
    events = _Events.of(scan)
    return _in_time(events, events.changes())


def _kinds(kind: NDArray[np.integer], number: NDArray[np.int16]) -> tuple[frozenset[int], bool]:
    """`Steering.controllers` and `Steering.bends` of some changes."""
    controllers = np.bincount(number[kind == CONTROLLER]).nonzero()[0]
    return frozenset(controllers.tolist()), bool(np.count_nonzero(kind == BEND))


def _in_time(events: _Events, rows: NDArray[np.intp]) -> Changes:
    """Some rows of ``events``, which hold channel messages other than notes, in order of time."""
    rows = rows[order_of(events.tick[rows])]
    status = events.status.take(rows)
    kind, number, value = status & KIND, events.data1.take(rows), events.data2.take(rows)
    bends = (kind == BEND).nonzero()[0]
    value[bends] = number[bends] + 128 * value[bends] - 8192
    number[bends] = 0
    return Changes(
        tick=events.tick[rows],
        kind=kind.astype(np.uint8),
        track=events.track[rows],
        channel=(status & CHANNEL).astype(np.int16) + np.int16(1),
        number=number,
        value=value,
        row=events.row[rows],
    )
