"""Where does each event of a track begin, read byte by byte, and what is odd there?

Slow beside `quick`, which leaves to it whatever is not plain; both must agree.

Source: Standard MIDI Files 1.0 (RP-001) for quantities, meta and SysEx events; MIDI 1.0 detailed
specification for the lengths of channel messages.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.errors import MidiError, TooLarge
from basslint.smf.chunks import EXPORT_AGAIN, VARIABLE_LENGTH_BYTES
from basslint.smf.positions import LONG
from basslint.smf.status import META


def too_many(index: int, byte: int) -> TooLarge:
    """The error for a track that holds more events than the limit; ``byte``: the first beyond."""
    return TooLarge(
        f"Track {index} passes the limit on events.",
        "Check that this is an arrangement, or raise the limit `max_events`.",
        byte=byte,
    )


def careful(
    data: bytes, begin: int, end: int, room: int, index: int, base: int
) -> NDArray[np.int64]:
    """The byte at which the delta time of each event of [``begin``, ``end``) begins.

    Raises `MidiError` or `TooLarge` with the byte at fault. ``room``: the most events there may be.
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
            raise too_many(index, base + at)
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
