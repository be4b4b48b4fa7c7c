"""At which byte does each event of a track begin?

Two finders that agree. `quick` asks, for every byte at once, where the next event would begin if
one began here, and then only follows the chain, four events at a time: many times as fast as
reading byte by byte. It gives up on anything odd. `careful` reads byte by byte and says what is
odd, and where.

Source: Standard MIDI Files 1.0 (RP-001) for quantities, meta and SysEx events; MIDI 1.0 detailed
specification for the lengths of channel messages.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.errors import MidiError, TooLarge
from basslint.smf.chunks import EXPORT_AGAIN, VARIABLE_LENGTH_BYTES

META = 0xFF
LONG = (META, 0xF0, 0xF7)  # events that state their length: meta, SysEx, escape
PAD = 12  # zero bytes after the data, so that looking ahead needs no bounds
_WINDOW = 1 << 15  # bytes looked at in one go, which bounds the memory
_BAD = 1 << 50  # a state beyond all others
_FIRST = 64  # events among which the first channel message mostly is

# What an event adds to twice the place of its first byte, by that byte, in the states 0 and 1: two
# for each byte it has, and one where the running status that it leaves stands for one data byte.
_ADDED = np.full((256, 2), 6, dtype=np.int64)
_ADDED[:0x80] = 4, 3
_ADDED[0xC0:0xE0] = 5


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
) -> NDArray[np.int64] | None:
    """The byte of each event's delta time in [``begin``, ``end``), or None for anything odd.

    Raises `TooLarge` where there are more than ``room``. ``index`` names the track, ``base`` is
    added to bytes that are reported.

    The state of the reader is a place and how many data bytes running status stands for: state =
    2 · place + (1 where it is one byte, else 0).
    """
    pieces: list[NDArray[np.int64]] = []
    count = 0
    state = 2 * begin
    while state < 2 * end:
        low = state >> 1
        high = min(low + _WINDOW, end)
        after = _next_states(buffer, low, high)
        found = _follow(after, state - 2 * low)
        here = int(after[found[-1]])
        if here >= _BAD:
            return None
        state = here + 2 * low
        if count + len(found) > room:
            raise _too_many(index, base + low + int(found[room - count] >> 1))
        count += len(found)
        pieces.append((found >> 1) + low)
    if state >> 1 != end:
        return None
    places = np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.int64)
    return None if _runs_on_nothing(buffer, places) else places


def _follow(after: NDArray[np.int64], state: int) -> NDArray[np.int64]:
    """The states of the events of a window, from the first on; ``after`` as from `_next_states`."""
    limit = len(after)
    one = np.empty(limit + 1, dtype=np.int64)  # the state beyond the window leads to itself
    np.minimum(after, limit, out=one[:limit])
    one[limit] = limit
    two = one.take(one)
    ahead = two.take(two).data
    fourth: list[int] = []
    add = fourth.append
    while state < limit:  # one turn for four events: kept as bare as can be
        add(state)
        state = ahead[state]
    found = np.empty((len(fourth), 4), dtype=np.int64)
    found[:, 0] = fourth
    found[:, 1] = one.take(found[:, 0])
    found[:, 2] = two.take(found[:, 0])
    found[:, 3] = one.take(found[:, 2])
    return found.reshape(-1)[: 4 * len(fourth) - int(np.sum(found[-1] == limit))]


def _runs_on_nothing(buffer: NDArray[np.uint8], places: NDArray[np.int64]) -> bool:
    """Whether the first channel message leaves out its status, where none came before."""
    for some in (places[:_FIRST], places[_FIRST:]):
        byte = buffer[quantities(buffer, some)[1]]
        channel = byte < 0xF0
        if channel.any():
            return bool(byte[np.argmax(channel)] < 0x80)
    return False


def _next_states(buffer: NDArray[np.uint8], low: int, high: int) -> NDArray[np.int64]:
    """The state after an event that begins at each byte, by state, int64 [2n].

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
    after = _ADDED.take(byte, axis=0)
    event *= 2
    after[:, 0] += event
    after[:, 1] += event
    system = np.flatnonzero(byte >= 0xF0)
    if len(system):
        kind = byte[system]
        length, payload = quantities(window, event[system] // 2 + 1 + (kind == META))
        stop = 2 * (payload + length)
        known = ((kind == META) | (kind == 0xF0) | (kind == 0xF7)) & (length >= 0)
        after[system, 0] = np.where(known, stop, _BAD)
        after[system, 1] = np.where(known, stop + 1, _BAD)
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
