"""At which byte does each event of a track begin?

Two finders that agree. `quick` asks, for every byte at once, where the next event would begin if
one began here, and then only follows the chain, four events at a time: many times as fast as
reading byte by byte. It gives up on anything odd. `careful`, in a file of its own, reads byte by
byte and says what is odd, and where.

How long an event is hangs on its status, which running status leaves out. Mostly that stands for
messages of two data bytes: `quick` first takes it so, and asks for both where this proves wrong.

Source: Standard MIDI Files 1.0 (RP-001) for quantities, meta and SysEx events; MIDI 1.0 detailed
specification for the lengths of channel messages.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.smf.chunks import VARIABLE_LENGTH_BYTES
from basslint.smf.status import META
from basslint.util.records import record

PAD = 12  # zero bytes after the data, so that looking ahead needs no bounds
_WINDOW = 1 << 15  # bytes looked at in one go, which bounds the memory
_BAD = 1 << 50  # a state beyond all others

# The state of the reader is a place and, where both ways are asked for, whether running status
# stands for one data byte: state = ways · place + (1 if it does, else 0), for one way or two.
# What an event adds to the state at its first byte, by that byte and by the state before. For one
# way that is the length of the event: 3 bytes, 2 under running status and for one data byte.
_ADDED = np.full((256, 2), 6, dtype=np.int64)
_ADDED[:0x80] = 4, 3
_ADDED[0xC0:0xE0] = 5


@record(eq=False, kw_only=True)
class Positions:
    """Where the events of a track stand, columns [n] in file order.

    ``delta_at`` int64: byte where the delta time begins; ``delta`` int64 ticks; ``at`` int64: byte
    where the event itself begins; ``first`` uint8: that byte; ``status`` uint8: the status, running
    status resolved, 0 where there is none.
    """

    delta_at: NDArray[np.int64]
    delta: NDArray[np.int64]
    at: NDArray[np.int64]
    first: NDArray[np.uint8]
    status: NDArray[np.uint8]

    @staticmethod
    def of(buffer: NDArray[np.uint8], delta_at: NDArray[np.int64]) -> Positions:
        """Look up what stands at the events whose delta times begin at some bytes."""
        delta, at = quantities(buffer, delta_at)
        first = buffer.take(at)
        return Positions(
            delta_at=delta_at, delta=delta, at=at, first=first, status=_resolved(first)
        )

    @staticmethod
    def of_tracks(buffer: NDArray[np.uint8], tracks: Sequence[NDArray[np.int64]]) -> Positions:
        """The same of several tracks, one after another; none gives another its status."""
        delta_at = np.concatenate(tracks)
        delta, at = quantities(buffer, delta_at)
        first = buffer.take(at)
        count = np.array([len(track) for track in tracks])
        status = _resolved(first, np.repeat(count.cumsum() - count, count))
        return Positions(delta_at=delta_at, delta=delta, at=at, first=first, status=status)


def _resolved(
    first: NDArray[np.uint8], since: NDArray[np.int64] | None = None
) -> NDArray[np.uint8]:
    """The status of each event, by its first byte and the last channel status before it.

    ``since`` [n]: row from which on events are of its own track; one track where it is None.
    """
    running = (first < 0x80).nonzero()[0]
    if not len(running):
        return first
    channel = np.where((first >= 0x80) & (first < 0xF0), np.arange(1, len(first) + 1), 0)
    last = np.maximum.accumulate(channel)[running]
    status = first.copy()
    own = last > (0 if since is None else since[running])
    status[running] = np.where(own, first[last - 1], 0)
    return status


def quantities(
    buffer: NDArray[np.uint8], at: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Variable-length quantities at some bytes: their values, and the byte after each.

    The value is −1 where a quantity is longer than 4 bytes. ``buffer`` is padded by `PAD`.
    """
    digit = buffer[at]
    value = (digit & 0x7F).astype(np.int64)
    stop = at + 1
    more = (digit >= 0x80).nonzero()[0]
    for _ in range(VARIABLE_LENGTH_BYTES - 1):
        if not len(more):
            return value, stop
        digit = buffer[stop[more]]
        value[more] = value[more] << 7 | (digit & 0x7F)
        stop[more] += 1
        more = more[digit >= 0x80]
    value[more] = -1
    return value, stop


def quick(
    buffer: NDArray[np.uint8], begin: int, end: int, room: int, index: int, base: int
) -> Positions | None:
    """The events in [``begin``, ``end``), or None for anything odd.

    Raises `TooLarge` where there are more than ``room``. ``index`` names the track, ``base`` is
    added to bytes that are reported.
    """
    chain, whole = _chain(buffer, begin, end, room, 1)
    places = Positions.of(buffer, chain)
    # up to the first event that proves it wrong the chain is right, so that one is seen
    if _runs_short(places):
        chain, whole = _chain(buffer, begin, end, room, 2)
        places = Positions.of(buffer, chain)
    if len(chain) > room:
        from basslint.smf.careful import too_many

        raise too_many(index, base + int(chain[room]))
    return places if whole and places.status.min(initial=META) >= 0x80 else None


def quick_tracks(
    buffer: NDArray[np.uint8], spans: Sequence[tuple[int, int]], room: int
) -> tuple[Positions, list[int]] | None:
    """The events of all tracks of a file, one after another, and how many each has.

    ``spans``: first byte of each track and the one after its last. None for anything odd, and for
    more than ``room``: then each is to be read alone, to say of which track it is.
    """
    chains = _chains(buffer, spans, room)
    if not chains:
        return None
    counts = [len(chain) for chain in chains]
    if sum(counts) > room:
        return None
    places = Positions.of_tracks(buffer, chains)
    if _runs_short(places) or places.status.min(initial=META) < 0x80:
        return None
    return places, counts


def _chains(
    buffer: NDArray[np.uint8], spans: Sequence[tuple[int, int]], room: int
) -> list[NDArray[np.int64]] | None:
    """The bytes of the delta times of each track; None where anything is odd, or no track is."""
    chains = []
    if not spans or spans[-1][1] - spans[0][0] > _WINDOW:
        for begin, end in spans:
            chain, whole = _chain(buffer, begin, end, room, 1)
            if not whole:
                return None
            chains.append(chain)
        return chains
    # a small file is looked at in one go; what lies between tracks is odd and met by no chain
    low = spans[0][0]
    after = _next_states(buffer, low, spans[-1][1], 1)
    leaps = _leaps(after)
    for begin, end in spans:
        found = _follow(leaps, begin - low, end - low)
        if not len(found) or after[found[-1]] != end - low:
            return None
        chains.append(found + low)
    return chains


def _chain(
    buffer: NDArray[np.uint8], begin: int, end: int, room: int, ways: int
) -> tuple[NDArray[np.int64], bool]:
    """The byte of each delta time, and whether the last event ends at ``end``.

    It stops where something is odd, and soon after ``room`` events.
    """
    pieces = [np.zeros(0, dtype=np.int64)]
    count = 0
    state = ways * begin
    while state < ways * end and count <= room:
        low = state // ways
        after = _next_states(buffer, low, min(low + _WINDOW, end), ways)
        found = _follow(_leaps(after), state - ways * low, len(after))
        pieces.append(found // ways + low)
        count += len(found)
        state = int(after[found[-1]]) + ways * low
    return np.concatenate(pieces), state // ways == end


def _runs_short(places: Positions) -> bool:
    """Whether running status anywhere stands for one data byte."""
    single = (places.status >= 0xC0) & (places.status < 0xE0)
    return bool(single.any() and (single & (places.first < 0x80)).any())


_Leaps = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]


def _leaps(after: NDArray[np.int64]) -> _Leaps:
    """The states one, two, four and eight events on; ``after`` as from `_next_states`.

    Indexed, since `take` needs twice as long for wide numbers (and half for narrow ones).
    """
    limit = len(after)
    one = np.empty(limit + 1, dtype=np.int64)  # the state beyond the window leads to itself
    np.minimum(after, limit, out=one[:limit])
    one[limit] = limit
    two = one[one]
    four = two[two]
    return one, two, four, four[four]


def _follow(leaps: _Leaps, state: int, limit: int) -> NDArray[np.int64]:
    """The states of the events from ``state`` on, as far as they lie below ``limit``."""
    one, two, four, eight = leaps
    ahead = eight.data
    eighth: list[int] = []
    add = eighth.append
    while state < limit:  # one turn for eight events: kept as bare as can be
        add(state)
        state = ahead[state]
    found = np.empty((len(eighth), 8), dtype=np.int64)
    found[:, 0] = eighth
    found[:, 4] = four[found[:, 0]]
    found[:, 2::4] = two[found[:, ::4]]
    found[:, 1::2] = one[found[:, ::2]]
    chain = found.reshape(-1)
    return chain[: chain.searchsorted(limit)]


def _next_states(buffer: NDArray[np.uint8], low: int, high: int, ways: int) -> NDArray[np.int64]:
    """The state after an event that begins at each byte, by state, int64 [ways · n].

    States are counted from that of byte ``low``; `_BAD` and more is an event that `careful` must
    look at.
    """
    window = buffer[low : high + PAD]
    count = high - low
    carry = window >= 0x80
    one, two, three = carry[:count], carry[1 : count + 1], carry[2 : count + 2]
    two = one & two
    three = two & three
    event = np.arange(1, count + 1, dtype=np.int64)
    event += one.view(np.uint8) + two.view(np.uint8) + three.view(np.uint8)
    byte = window.take(event)
    if ways == 1:  # the same sums, of bytes, of which many are added at once
        short = (byte & 0xE0) == 0xC0
        size = (byte >= 0x80).view(np.uint8) - short.view(np.uint8)
        size += 2
        after = event[:, None] + size[:, None]
    else:
        after = _ADDED.take(byte, axis=0)
        after += 2 * event[:, None]
    system = (byte >= 0xF0).nonzero()[0]
    if len(system):
        kind = byte[system]
        length, payload = quantities(window, event[system] + 1 + (kind == META))
        known = ((kind == META) | (kind == 0xF0) | (kind == 0xF7)) & (length >= 0)
        stop = np.where(known, ways * (payload + length), _BAD)
        after[system] = stop[:, None] + np.arange(ways)  # running status goes on after them
    overlong = three & carry[3 : count + 3]
    if overlong.any():
        after[overlong] = _BAD
    states: NDArray[np.int64] = after.reshape(-1)
    return states
