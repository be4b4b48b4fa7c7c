"""Which events do these bytes hold, and at which byte does each stand?

The reader keeps every event of every track as numpy columns beside its byte offsets, so that a
later edit can leave all other bytes alone. It decodes nothing that it does not need: channel
messages stay three small integers, meta and SysEx payloads stay where they are in the buffer.

Source: Standard MIDI Files 1.0 (RP-001); MIDI 1.0 detailed specification for the lengths of
channel messages.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.errors import MidiError, TooLarge
from basslint.smf.chunks import (
    DEFAULT_LIMITS,
    EXPORT_AGAIN,
    VARIABLE_LENGTH_BYTES,
    Chunk,
    Limits,
    check_track_count,
    list_chunks,
    read_header,
    unwrap_riff,
)

__all__ = ["DEFAULT_LIMITS", "Chunk", "Limits", "Scan", "TrackEvents", "scan"]

META = 0xFF
SYSEX = 0xF0
ESCAPE = 0xF7
END_OF_TRACK = 0x2F
_LONG = (META, SYSEX, ESCAPE)  # events that state their length


@dataclass(frozen=True, slots=True, eq=False)
class TrackEvents:
    """The events of one MTrk chunk, in file order.

    All columns have shape [n]. ``tick`` int64: ticks from the start of the file. ``delta_at``
    int64: byte where the event's delta time begins. ``at`` int64: byte where the event itself
    begins (a data byte under running status). ``stop`` int64: first byte after the event.
    ``status`` uint8: status with channel, running status resolved. ``data1``, ``data2`` uint8:
    data bytes of a channel message, 0 where it has none; for a meta event ``data1`` is its type.
    ``payload_at`` int64: first payload byte of a meta or SysEx event, equal to ``stop`` otherwise.
    """

    index: int
    chunk: Chunk
    tick: NDArray[np.int64]
    delta_at: NDArray[np.int64]
    at: NDArray[np.int64]
    stop: NDArray[np.int64]
    status: NDArray[np.uint8]
    data1: NDArray[np.uint8]
    data2: NDArray[np.uint8]
    payload_at: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.tick)


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """A whole file: the bytes (after unwrapping RIFF), its header, chunks and tracks.

    ``warnings`` are plain sentences on what the reader had to put up with. ``base`` is the offset
    of ``data`` in the original file (nonzero inside a RIFF wrapper), to report bytes truly.
    """

    data: bytes
    base: int
    format: int
    division: int
    chunks: tuple[Chunk, ...]
    tracks: tuple[TrackEvents, ...]
    warnings: tuple[str, ...]


def scan(raw: bytes, limits: Limits = DEFAULT_LIMITS) -> Scan:
    """Read a Standard MIDI File of format 0 or 1.

    Raises `NotMidi`, `Truncated`, `Unsupported`, `TooLarge` or plain `MidiError` (damaged), each
    with the byte where reading stopped. Never returns part of a damaged track.
    """
    if len(raw) > limits.max_bytes:
        raise TooLarge(
            f"The file has {len(raw):,} bytes; basslint reads up to {limits.max_bytes:,}.",
            "Check that this is an arrangement, or raise the limit `max_bytes` in the settings.",
        )
    warnings: list[str] = []
    data, base = unwrap_riff(raw)
    if base:
        warnings.append(f"The file is wrapped in RIFF; the MIDI data starts at byte {base}.")
    division, file_format, claimed, first = read_header(data, base, warnings)
    chunks = list_chunks(data, first, base, limits, warnings)
    tracks: list[TrackEvents] = []
    room = limits.max_events
    for chunk in chunks:
        if chunk.kind == b"MTrk":
            track = _read_track(data, chunk, len(tracks), base, room, limits.max_ticks, warnings)
            room -= len(track)
            tracks.append(track)
    check_track_count(len(tracks), claimed, file_format, len(data) + base, warnings)
    return Scan(data, base, file_format, division, chunks, tuple(tracks), tuple(warnings))


def _read_track(
    data: bytes,
    chunk: Chunk,
    index: int,
    base: int,
    room: int,
    max_ticks: int,
    warnings: list[str],
) -> TrackEvents:
    """Read one track.

    The loop only finds where events begin and end; what they hold is gathered by numpy at the end,
    which is what makes it several times faster than decoding message by message.
    """
    at, end = chunk.body, chunk.end
    tick = 0
    status = 0  # running status, 0 = none
    broken_running = False  # a meta or SysEx event has cancelled it (RP-001)
    delta_ats: list[int] = []
    ticks: list[int] = []
    ats: list[int] = []
    statuses: list[int] = []
    payload_rows: list[int] = []
    payload_ats: list[int] = []
    ended = False
    resumed = 0

    def fail(what: str, where: int) -> MidiError:
        return MidiError(f"Track {index}: {what}", EXPORT_AGAIN, byte=base + where)

    while at < end:
        if len(ticks) >= room:
            raise TooLarge(
                f"Track {index} passes the limit on events.",
                "Check that this is an arrangement, or raise the limit `max_events`.",
                byte=base + at,
            )
        begin = at
        byte = data[at]
        at += 1
        if byte >= 0x80:
            delta = byte & 0x7F
            while True:
                if at >= end:
                    raise fail("the track ends inside a delta time.", begin)
                byte = data[at]
                at += 1
                delta = delta << 7 | byte & 0x7F
                if byte < 0x80:
                    break
                if at - begin >= VARIABLE_LENGTH_BYTES:
                    raise fail("a delta time is longer than 4 bytes.", begin)
            tick += delta
        else:
            tick += byte
        if at >= end:
            raise fail("the track ends after a delta time, with no event.", begin)
        place = at
        byte = data[at]
        if byte < 0x80:
            if not status:
                raise fail("a data byte stands where a status byte must, and none came before.", at)
            if broken_running:
                resumed += 1
                broken_running = False
            at += 1 if 0xC0 <= status < 0xE0 else 2
        elif byte < 0xF0:
            status = byte
            broken_running = False
            at += 2 if 0xC0 <= byte < 0xE0 else 3
        elif byte in _LONG:
            at += 2 if byte == META else 1
            length = 0
            first = at
            while True:
                if at >= end:
                    raise fail("the track ends inside an event's length.", place)
                digit = data[at]
                at += 1
                length = length << 7 | digit & 0x7F
                if digit < 0x80:
                    break
                if at - first >= VARIABLE_LENGTH_BYTES:
                    raise fail("an event's length is longer than 4 bytes.", place)
            payload_rows.append(len(ticks))
            payload_ats.append(at)
            if at + length <= end:
                if byte == META and data[place + 1] == END_OF_TRACK:
                    ended = True
                elif byte == META and data[place + 1] >= 0x80:
                    raise fail("a meta event's type is over 127.", place + 1)
            at += length
            broken_running = True
        else:
            raise fail(f"the byte 0x{byte:02X} is no event of a MIDI file.", place)
        if at > end:
            raise fail("an event runs past the end of its track.", place)
        delta_ats.append(begin)
        ticks.append(tick)
        ats.append(place)
        statuses.append(status if byte < 0xF0 else byte)
    if tick > max_ticks:
        raise TooLarge(
            f"Track {index} lasts {tick:,} ticks.",
            "Check the delta times, or raise the limit `max_ticks`.",
            byte=base + chunk.body,
        )
    if resumed:
        warnings.append(
            f"Track {index}: running status goes on after a meta or SysEx event ({resumed} times); "
            "the last channel status was taken."
        )
    if not ended:
        warnings.append(f"Track {index} has no end-of-track event.")
    columns = _gather(data, index, chunk, delta_ats, ticks, ats, statuses)
    if payload_rows:
        columns.payload_at[payload_rows] = payload_ats
        last = payload_rows[-1]
        if ended and not (last == len(ticks) - 1 and columns.data1[last] == END_OF_TRACK):
            warnings.append(f"Track {index} goes on after its end-of-track event.")
    _check_data_bytes(columns, base)
    return columns


def _gather(
    data: bytes,
    index: int,
    chunk: Chunk,
    delta_ats: list[int],
    ticks: list[int],
    ats: list[int],
    statuses: list[int],
) -> TrackEvents:
    """Turn the places found into columns, reading the data bytes in one go."""
    buffer = np.frombuffer(data, dtype=np.uint8)
    at = np.array(ats, dtype=np.int64)
    delta_at = np.array(delta_ats, dtype=np.int64)
    status = np.array(statuses, dtype=np.uint8)
    stop = np.append(delta_at[1:], chunk.end)[: len(at)].astype(np.int64)
    if not len(at):
        empty = np.zeros(0, dtype=np.uint8)
        return TrackEvents(index, chunk, at, delta_at, at, stop, status, empty, empty, stop)
    first = at + (buffer[at] >= 0x80)  # under running status the event begins with its data
    last = len(buffer) - 1
    data1 = buffer[np.minimum(first, last)]
    pair = (status < 0xC0) | ((status >= 0xE0) & (status < 0xF0))
    data2 = np.where(pair, buffer[np.minimum(first + 1, last)], 0).astype(np.uint8)
    return TrackEvents(
        index,
        chunk,
        np.array(ticks, dtype=np.int64),
        delta_at,
        at,
        stop,
        status,
        np.where((status < 0xF0) | (status == META), data1, 0).astype(np.uint8),
        data2,
        stop.copy(),
    )


def _check_data_bytes(track: TrackEvents, base: int) -> None:
    """A data byte over 127 means that the reader and the file disagree about where events are."""
    channel = track.status < 0xF0
    bad = channel & ((track.data1 >= 0x80) | (track.data2 >= 0x80))
    if bad.any():
        row = int(np.argmax(bad))
        raise MidiError(
            f"Track {track.index}: a data byte is over 127.",
            EXPORT_AGAIN,
            byte=base + int(track.at[row]),
        )
