"""Where do the events of a track stand, and what do they hold?

Two finders tell at which byte each begins, and agree: `quick`, which gives up on anything odd, and
`careful`, which reads byte by byte and says what is odd, and where.

Source: Standard MIDI Files 1.0 (RP-001) for quantities, meta and SysEx events; MIDI 1.0 detailed
specification for the lengths of channel messages.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.smf.chunks import VARIABLE_LENGTH_BYTES
from basslint.smf.status import BEND, META, PROGRAM, SYSTEM
from basslint.util.columns import ends_of
from basslint.util.records import record

PAD = 12  # zero bytes after the data, so that looking ahead needs no bounds
LONG = META, 0xF0, 0xF7  # events that state their length: meta, SysEx, escape


@record(eq=False, kw_only=True)
class Positions:
    """Where the events of a track, or of several, stand and what they hold, columns [n].

    ``delta_at`` int64: byte where the delta time begins; ``delta`` int64 ticks; ``at`` int64: byte
    where the event itself begins; ``first`` uint8: that byte; ``stop`` int64: first byte after it;
    ``payload_at`` int64: first payload byte of a meta or SysEx event, equal to ``stop`` otherwise.
    ``status`` uint8: the status, running status resolved, 0 where there is none; ``data1``,
    ``data2`` uint8: data bytes of a channel message, 0 where it has none; for a meta event
    ``data1`` is its type.
    """

    delta_at: NDArray[np.int64]
    delta: NDArray[np.int64]
    at: NDArray[np.int64]
    first: NDArray[np.uint8]
    stop: NDArray[np.int64]
    payload_at: NDArray[np.int64]
    status: NDArray[np.uint8]
    data1: NDArray[np.uint8]
    data2: NDArray[np.uint8]

    @staticmethod
    def of(buffer: NDArray[np.uint8], delta_at: NDArray[np.int64], end: int) -> Positions:
        """Look up what stands at the events of a track whose delta times begin at some bytes."""
        at = quantities(buffer, delta_at)[1]
        first, stop = buffer.take(at), ends_of(delta_at, end)
        long = (first >= SYSTEM).nonzero()[0]
        payload_at = stop.copy()
        payload_at[long] = quantities(buffer, at[long] + 1 + (first[long] == META))[1]
        return looked_up(buffer, delta_at, at, first, stop, payload_at, [len(at)])


def looked_up(
    buffer: NDArray[np.uint8],
    delta_at: NDArray[np.int64],
    at: NDArray[np.int64],
    first: NDArray[np.uint8],
    stop: NDArray[np.int64],
    payload_at: NDArray[np.int64],
    counts: Sequence[int],
) -> Positions:
    """What events hold of which it is known where they stand; ``counts``: how many a track."""
    status = _resolved(first, counts)
    data1, data2 = buffer.take(stop - 2), buffer.take(stop - 1)
    # of all but messages of two data bytes
    others = ((status >= PROGRAM) & (status < BEND) | (status >= SYSTEM)).nonzero()[0]
    kind = status[others]
    data1[others] = buffer[at[others] + (first[others] >= 0x80)]
    data1[others] *= (kind < SYSTEM) | (kind == META)
    data2[others] = 0
    return Positions(
        delta_at=delta_at,
        delta=quantities(buffer, delta_at)[0],
        at=at,
        first=first,
        stop=stop,
        payload_at=payload_at,
        status=status,
        data1=data1,
        data2=data2,
    )


def _resolved(first: NDArray[np.uint8], counts: Sequence[int]) -> NDArray[np.uint8]:
    """The status of each event, by its first byte and the last channel status before it.

    ``counts``: how many events each track has; none gives another its status.
    """
    running = (first < 0x80).nonzero()[0]
    if not len(running):
        return first
    channel = np.where((first >= 0x80) & (first < SYSTEM), np.arange(1, len(first) + 1), 0)
    last = np.maximum.accumulate(channel)[running]
    size = np.array(counts)
    since = (size.cumsum() - size).repeat(size)  # row from which on events are of its own track
    status = first.copy()
    status[running] = np.where(last > since[running], first[last - 1], 0)
    return status


def quantities(
    buffer: NDArray[np.uint8], at: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Variable-length quantities at some bytes: their values, and the byte after each.

    The value is −1 where a quantity is longer than 4 bytes. ``buffer`` is padded by `PAD`.
    """
    digit = buffer.take(at)
    value = (digit & 0x7F).astype(np.int64)
    stop = at + 1
    more = (digit >= 0x80).nonzero()[0]
    for _ in range(VARIABLE_LENGTH_BYTES - 1):
        if not len(more):
            return value, stop
        digit = buffer.take(stop[more])
        value[more] = value[more] << 7 | (digit & 0x7F)
        stop[more] += 1
        more = more[digit >= 0x80]
    value[more] = -1
    return value, stop
