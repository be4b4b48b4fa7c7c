"""At which byte does each event of a track begin?

Two finders that agree. `quick` asks, for every byte at once, where the next event would begin if
one began here, and then only follows the chain, four events at a time: many times as fast as
reading byte by byte. It gives up on anything odd. `careful` reads byte by byte and says what is
odd, and where.

How long an event is hangs on its status, which running status leaves out. Mostly that stands for
messages of two data bytes: `quick` first takes it so, and asks for both where this proves wrong.

Source: Standard MIDI Files 1.0 (RP-001) for quantities, meta and SysEx events; MIDI 1.0 detailed
specification for the lengths of channel messages.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.errors import MidiError, TooLarge
from basslint.smf.chunks import EXPORT_AGAIN, VARIABLE_LENGTH_BYTES
from basslint.util.records import record

META = 0xFF
LONG = (META, 0xF0, 0xF7)  # events that state their length: meta, SysEx, escape
PAD = 12  # zero bytes after the data, so that looking ahead needs no bounds
_WINDOW = 1 << 15  # bytes looked at in one go, which bounds the memory
_BAD = 1 << 50  # a state beyond all others

# The state of the reader is a place and, where both ways are asked for, whether running status
# stands for one data byte: state = ways · place + (1 if it does, else 0), for one way or two.
# What an event adds to the state at its first byte, by that byte and by the state before:
_ADDED = {
    1: np.full((256, 1), 3, dtype=np.int64),
    2: np.full((256, 2), 6, dtype=np.int64),
}
_ADDED[1][:0x80] = 2
_ADDED[1][0xC0:0xE0] = 2
_ADDED[2][:0x80] = 4, 3
_ADDED[2][0xC0:0xE0] = 5


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


def _resolved(first: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The status of each event, by its first byte and the last channel status before it."""
    running = np.flatnonzero(first < 0x80)
    if not len(running):
        return first
    channel = np.where((first >= 0x80) & (first < 0xF0), np.arange(1, len(first) + 1), 0)
    last = np.maximum.accumulate(channel)[running]
    status = first.copy()
    status[running] = np.where(last > 0, first[last - 1], 0)
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
    more = np.flatnonzero(digit >= 0x80)
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
        raise _too_many(index, base + int(chain[room]))
    return places if whole and places.status.min(initial=META) >= 0x80 else None


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
        found = _follow(after, state - ways * low)
        pieces.append(found // ways + low)
        count += len(found)
        state = int(after[found[-1]]) + ways * low
    return np.concatenate(pieces), state // ways == end


def _runs_short(places: Positions) -> bool:
    """Whether running status anywhere stands for one data byte."""
    single = (places.status >= 0xC0) & (places.status < 0xE0)
    return bool(single.any() and (single & (places.first < 0x80)).any())


def _follow(after: NDArray[np.int64], state: int) -> NDArray[np.int64]:
    """The states of the events of a window, from the first on; ``after`` as from `_next_states`."""
    limit = len(after)
    one = np.empty(limit + 1, dtype=np.int64)  # the state beyond the window leads to itself
    np.minimum(after, limit, out=one[:limit])
    one[limit] = limit
    two = one.take(one)
    four = two.take(two)
    ahead = four.take(four).data
    eighth: list[int] = []
    add = eighth.append
    while state < limit:  # one turn for eight events: kept as bare as can be
        add(state)
        state = ahead[state]
    found = np.empty((len(eighth), 8), dtype=np.int64)
    found[:, 0] = eighth
    found[:, 4] = four.take(found[:, 0])
    found[:, 2::4] = two.take(found[:, ::4])
    found[:, 1::2] = one.take(found[:, ::2])
    return found.reshape(-1)[: 8 * len(eighth) - int(np.sum(found[-1] == limit))]


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
    event = np.arange(1, count + 1, dtype=np.int64) + (
        one.view(np.uint8) + two.view(np.uint8) + three.view(np.uint8)
    )
    byte = window.take(event)
    after = _ADDED[ways].take(byte, axis=0)
    after += (ways * event)[:, None]
    system = np.flatnonzero(byte >= 0xF0)
    if len(system):
        kind = byte[system]
        length, payload = quantities(window, event[system] + 1 + (kind == META))
        known = ((kind == META) | (kind == 0xF0) | (kind == 0xF7)) & (length >= 0)
        stop = np.where(known, ways * (payload + length), _BAD)
        after[system] = stop[:, None] + np.arange(ways)  # running status goes on after them
    overlong = three & carry[3 : count + 3]
    if overlong.any():
        after[overlong] = _BAD
    return after.reshape(-1)


def _too_many(index: int, byte: int) -> TooLarge:
    return TooLarge(
        f"Track {index} passes the limit on events.",
        "Check that this is an arrangement, or raise the limit `max_events`.",
        byte=byte,
    )


def careful(
    data: bytes, begin: int, end: int, room: int, index: int, base: int
) -> NDArray[np.int64]:
    """The same places, read byte by byte. Raises `MidiError` or `TooLarge` with the byte at fault.

    ``index`` names the track, ``base`` is added to bytes that are reported.
    """
    at = begin
    status = 0  # running status, 0 = none
    places: list[int] = []

    def fail(what: str, where: int) -> MidiError:
        return MidiError(f"Track {index}: {what}", EXPORT_AGAIN, byte=base + where)

    def quantity(at: int, what: str, where: int) -> tuple[int, int]:
        value = 0
        for place in range(at, at + VARIABLE_LENGTH_BYTES):
            if place >= end:
                raise fail(f"the track ends inside {what}.", where)
            value = value << 7 | data[place] & 0x7F
            if data[place] < 0x80:
                return value, place + 1
        raise fail(f"{what} is longer than {VARIABLE_LENGTH_BYTES} bytes.", where)

    while at < end:
        if len(places) >= room:
            raise _too_many(index, base + at)
        places.append(at)
        _, event = quantity(at, "a delta time", at)
        if event >= end:
            raise fail("the track ends after a delta time, with no event.", at)
        byte = data[event]
        if byte < 0x80:
            if not status:
                raise fail(
                    "a data byte stands where a status byte must, and none came before.", event
                )
            at = event + (1 if 0xC0 <= status < 0xE0 else 2)
        elif byte < 0xF0:
            status = byte
            at = event + (2 if 0xC0 <= byte < 0xE0 else 3)
        elif byte in LONG:
            length, payload = quantity(
                event + (2 if byte == META else 1), "an event's length", event
            )
            at = payload + length
        else:
            raise fail(f"the byte 0x{byte:02X} is no event of a MIDI file.", event)
        if at > end:
            raise fail("an event runs past the end of its track.", event)
    return np.array(places, dtype=np.int64)
