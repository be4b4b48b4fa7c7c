"""Which events do these bytes hold, and at which byte does each stand?

The reader keeps every event of every track as numpy columns beside its byte offsets, so that a
later edit can leave all other bytes alone. It decodes nothing that it does not need: channel
messages stay three small integers, meta and SysEx payloads stay where they are in the buffer.

Source: Standard MIDI Files 1.0 (RP-001); MIDI 1.0 detailed specification for the lengths of
channel messages.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from basslint.errors import MidiError, TooLarge
from basslint.smf.chunks import (
    DEFAULT_LIMITS,
    EXPORT_AGAIN,
    Chunk,
    Limits,
    check_track_count,
    list_chunks,
    read_header,
    unwrap_riff,
)
from basslint.smf.positions import PAD, Positions
from basslint.smf.quick import quick, quick_tracks
from basslint.smf.status import CONTROLLER, KIND, META, SYSTEM
from basslint.util.columns import found_in
from basslint.util.records import record, replace

__all__ = ["DEFAULT_LIMITS", "META", "Chunk", "Limits", "Scan", "TrackEvents", "scan"]

END_OF_TRACK = 0x2F
_TOP = 127  # of a data byte
_LEVELS = (
    7,
    8,
    10,
    11,
)  # controllers of volume, balance, pan, expression: nothing is judged of them
_SHOWN_BYTES = 8  # of an event at fault


@record(eq=False, kw_only=True)
class TrackEvents:
    """The events of one MTrk chunk, in file order.

    All columns have shape [n]. ``tick`` int64: ticks from the start of the file. ``delta_at``
    int64: byte where the event's delta time begins. ``at`` int64: byte where the event itself
    begins (a data byte under running status). ``stop`` int64: first byte after the event.
    ``status`` uint8: status with channel, running status resolved. ``data1``, ``data2`` uint8:
    data bytes of a channel message, 0 where it has none; for a meta event ``data1`` is its type.
    ``payload_at`` int64: first payload byte of a meta or SysEx event, equal to ``stop`` otherwise.
    ``plain``: is there nothing to warn of in them?
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
    plain: bool

    def __len__(self) -> int:
        return len(self.tick)


@record(eq=False, kw_only=True)
class Scan:
    """A whole file: the bytes (after unwrapping RIFF), its header, chunks and tracks.

    ``warnings`` are plain sentences on what the reader had to put up with; ``limits`` are those
    that it was read under. ``base`` is the offset
    of ``data`` in the original file (nonzero inside a RIFF wrapper), to report bytes truly.
    """

    data: bytes
    base: int
    format: int
    division: int
    chunks: tuple[Chunk, ...]
    tracks: tuple[TrackEvents, ...]
    warnings: tuple[str, ...]
    limits: Limits = DEFAULT_LIMITS


def scan(raw: bytes, limits: Limits = DEFAULT_LIMITS, like: Scan | None = None) -> Scan:
    """Read a Standard MIDI File of format 0 or 1.

    ``like``: what a file held of which this one is a copy with some tracks written anew; the others
    are not read again, which saves time and changes nothing.
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
    buffer = np.frombuffer(data + bytes(PAD), dtype=np.uint8)
    of_tracks = [chunk for chunk in chunks if chunk.kind == b"MTrk"]
    tracks = None if like else _read_plain(buffer, of_tracks, limits)
    if tracks is None:
        tracks, room = [], limits.max_events
        for index, chunk in enumerate(of_tracks):
            track = _as_before(like, data, chunk, index, limits, room) if like else None
            if track is None:
                track = _read_track(data, buffer, chunk, index, base, limits, room, warnings)
            room -= len(track)
            tracks.append(track)
    check_track_count(len(tracks), claimed, file_format, len(data) + base, warnings)
    return Scan(
        data=data,
        base=base,
        format=file_format,
        division=division,
        chunks=chunks,
        tracks=tuple(tracks),
        warnings=tuple(warnings),
        limits=limits,
    )


def _read_plain(
    buffer: NDArray[np.uint8], chunks: Sequence[Chunk], limits: Limits
) -> list[TrackEvents] | None:
    """Read all tracks in one go; None where anything is to be said of one of them, or refused."""
    spans = [(chunk.body, chunk.end) for chunk in chunks]
    found = quick_tracks(buffer, spans, limits.max_events)
    if found is None:
        return None
    places, counts = found
    if min(counts, default=0) == 0:
        return None
    system = (places.status >= SYSTEM).nonzero()[0]
    ends = system[(places.status[system] == META) & (places.data1[system] == END_OF_TRACK)]
    last = [row - 1 for row in accumulate(counts)]  # of each track
    if ends.tolist() != last or np.count_nonzero(places.first[system[:-1] + 1] < 0x80):
        return None
    tracks, begin = [], 0
    for index, (chunk, count) in enumerate(zip(chunks, counts, strict=True)):
        track = _events(index, chunk, places, slice(begin, begin + count), True)
        if track.tick[-1] > limits.max_ticks:
            return None
        tracks.append(track)
        begin += count
    return tracks


def _as_before(
    like: Scan, data: bytes, chunk: Chunk, index: int, limits: Limits, room: int
) -> TrackEvents | None:
    """The events of a track that holds the bytes that it held in ``like``, if nothing was to be
    said of it there; None for any other."""
    track = like.tracks[index] if index < len(like.tracks) else None
    if track is None or not track.plain or len(track) > room or like.limits != limits:
        return None
    before = track.chunk
    if data[chunk.body : chunk.end] != like.data[before.body : before.end]:
        return None
    by = chunk.body - before.body
    moved = {name: getattr(track, name) + by for name in ("delta_at", "at", "stop", "payload_at")}
    return replace(track, chunk=chunk, **moved)


def _read_track(
    data: bytes,
    buffer: NDArray[np.uint8],
    chunk: Chunk,
    index: int,
    base: int,
    limits: Limits,
    room: int,
    warnings: list[str],
) -> TrackEvents:
    """Read one track: find where its events begin, then gather what they hold."""
    places = quick(buffer, chunk.body, chunk.end, room, index, base)
    if places is None:
        from basslint.smf.careful import careful  # few songs have such a track

        delta_at = careful(data, chunk.body, chunk.end, room, index, base)
        places = Positions.of(buffer, delta_at, chunk.end)
    said = len(warnings)
    track = _events(index, chunk, places, slice(None), False)
    if len(track) and int(track.tick[-1]) > limits.max_ticks:
        raise TooLarge(
            f"Track {index} lasts {int(track.tick[-1]):,} ticks.",
            "Check the delta times, or raise the limit `max_ticks`.",
            byte=base + chunk.body,
        )
    track = _checked_bytes(track, buffer, base, warnings)
    _note_oddities(track, buffer, warnings)
    return track if len(warnings) > said else replace(track, plain=True)


def _events(index: int, chunk: Chunk, places: Positions, rows: slice, plain: bool) -> TrackEvents:
    """The events of one track, which are some rows of those that were found."""
    return TrackEvents(
        index=index,
        chunk=chunk,
        tick=places.delta[rows].cumsum(),
        delta_at=places.delta_at[rows],
        at=places.at[rows],
        stop=places.stop[rows],
        status=places.status[rows],
        data1=places.data1[rows],
        data2=places.data2[rows],
        payload_at=places.payload_at[rows],
        plain=plain,
    )


def _note_oddities(track: TrackEvents, buffer: NDArray[np.uint8], warnings: list[str]) -> None:
    """Say what was put up with: running status over meta events, ends of track out of place."""
    name = f"Track {track.index}"
    system = (track.status >= SYSTEM).nonzero()[0]
    after = track.at[system[system < len(track) - 1] + 1]
    resumed = int((buffer[after] < 0x80).sum())
    if resumed:
        warnings.append(
            f"{name}: running status goes on after a meta or SysEx event ({resumed} times); "
            "the last channel status was taken."
        )
    ends = system[(track.status[system] == META) & (track.data1[system] == END_OF_TRACK)]
    if not len(ends):
        warnings.append(f"{name} has no end-of-track event.")
    elif ends[0] != len(track) - 1:
        warnings.append(f"{name} goes on after its end-of-track event.")


def _checked_bytes(
    track: TrackEvents, buffer: NDArray[np.uint8], base: int, warnings: list[str]
) -> TrackEvents:
    """The track, a level of 128 read as the 127 that was meant; nothing else passes over 127.

    Any other such byte means that reader and file disagree about where events are. 128 in place of
    the highest level comes from converters that count full volume as 128 steps; nothing is judged
    by it, and it stays in the file as it is. Nor is it the first byte of a delta time that comes
    one byte early: written as RP-001 shows them, none begins with 0x80.
    """
    bad = (track.data1 >= 0x80) | (track.data2 >= 0x80)
    if not np.count_nonzero(bad):
        return track
    level = (track.status & KIND == CONTROLLER) & found_in(track.data1, _LEVELS)
    full = level & (track.data2 == _TOP + 1)
    if np.count_nonzero(bad & ~full):
        row = int(np.argmax(bad & ~full))
        what = "a meta event's type" if track.status[row] == META else "a data byte"
        shown = buffer[int(track.at[row]) : int(track.stop[row])][:_SHOWN_BYTES].tobytes().hex(" ")
        raise MidiError(
            f"Track {track.index}: {what} is over {_TOP} (in {shown.upper()}), which no event may "
            "hold.",
            f"{EXPORT_AGAIN} If that writes the same, the program that wrote it is at fault.",
            byte=base + int(track.at[row]),
        )
    warnings.append(
        f"Track {track.index}: a controller of volume or place in the mix is {_TOP + 1}, over the "
        f"highest ({full.sum():,} times); {_TOP} was taken."
    )
    return replace(track, data2=np.where(full, _TOP, track.data2).astype(np.uint8))
