"""How do the files of one arrangement become one file, and how is that one parted again?

Many music programs export one file a part. Their tracks are laid beside each other from the first
bar on, at a resolution that all of theirs divide, so that no event moves.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from math import lcm

import numpy as np

from basslint.errors import MendError, Unsupported
from basslint.smf.scan import META, Scan, TrackEvents, scan
from basslint.smf.status import KIND, NOTE_ON, SYSTEM

_FINEST = 0x7FFF  # ticks per quarter that a header can hold (RP-001)
_NAME, _TEMPO, _METER = 0x03, 0x51, 0x58
_LONGEST_NAME = 100  # bytes of a file's name that become a track's


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One file of an arrangement: what it is called, what it holds, where its tracks come in."""

    name: str
    scan: Scan
    first_track: int
    times: int  # ticks of the whole per tick of its own
    named: frozenset[int]  # its tracks (from 0) that were given the file's name


@dataclass(frozen=True, slots=True)
class Joined:
    """A file of all tracks, in the order of the members, and plain sentences on what differs."""

    data: bytes
    members: tuple[Member, ...]
    remarks: tuple[str, ...]

    def index_of(self, track: int) -> int:
        """Which of the members a track of the whole comes from."""
        return sum(1 for member in self.members if member.first_track <= track) - 1


def join(files: Sequence[tuple[str, Scan]]) -> Joined:
    """Lay files beside each other. Raises `Unsupported` where no resolution suits them all."""
    division = lcm(*(read.division for _, read in files))
    if division > _FINEST:
        raise Unsupported(
            "The resolutions of the files have no common one that a MIDI file can state: "
            f"{', '.join(str(read.division) for _, read in files)} ticks a quarter.",
            "Export all of them at one resolution.",
        )
    members: list[Member] = []
    chunks: list[bytes] = []
    for name, read in files:
        times = division // read.division
        unnamed = frozenset(t.index for t in read.tracks if _plays(t) and not _has(t, _NAME))
        members.append(
            Member(name=name, scan=read, first_track=len(chunks), times=times, named=unnamed)
        )
        for track in read.tracks:
            lead = _name_event(name) if track.index in unnamed else b""
            chunks.append(lead + _retimed(read.data, track, track.tick * times))
    head = struct.pack(">4sIHHH", b"MThd", 6, 1, len(chunks), division)
    data = head + b"".join(b"MTrk" + struct.pack(">I", len(c)) + c for c in chunks)
    return Joined(data, tuple(members), _contradictions(members))


def parted(whole: Joined, mended: bytes) -> dict[int, bytes]:
    """The files that differ once the whole was mended, by index of the member; the others stay.

    Raises `MendError` for a file whose wrapper cannot be written again.
    """
    before, after = scan(whole.data), scan(mended)
    result: dict[int, bytes] = {}
    for index, member in enumerate(whole.members):
        own = member.scan
        changed = {
            track.index: after.tracks[member.first_track + track.index]
            for track in own.tracks
            if _body(before, member.first_track + track.index)
            != _body(after, member.first_track + track.index)
        }
        if not changed:
            continue
        if own.base:
            raise MendError(
                f"{member.name} is wrapped in another format and cannot be mended in a group.",
                "Export it as a plain MIDI file.",
            )
        result[index] = _rewritten(member, changed, after.data)
    return result


def _rewritten(member: Member, changed: dict[int, TrackEvents], data: bytes) -> bytes:
    """A member's bytes with some tracks as they stand in the mended whole."""
    own, out, at = member.scan, bytearray(), 0
    for index, track in sorted(changed.items()):
        chunk = own.tracks[index].chunk
        rows = np.ones(len(track), dtype=bool)
        if index in member.named:
            rows[_first_name(data, track, member.name)] = False
        tick = np.rint(track.tick / member.times).astype(np.int64)
        body = _retimed(data, track, tick, rows)
        out += own.data[at : chunk.offset] + b"MTrk" + struct.pack(">I", len(body)) + body
        at = chunk.end
    return bytes(out + own.data[at:])


def _retimed(
    data: bytes, track: TrackEvents, tick: np.ndarray, rows: np.ndarray | None = None
) -> bytes:
    """A track's events as they stand, at other ticks; ``rows`` bool: those that are kept."""
    out, now = bytearray(), 0
    kept = range(len(track)) if rows is None else np.flatnonzero(rows).tolist()
    at, stop, ticks = track.at.tolist(), track.stop.tolist(), tick.tolist()
    for row in kept:
        out += _quantity(ticks[row] - now) + data[at[row] : stop[row]]
        now = ticks[row]
    return bytes(out)


def _quantity(value: int) -> bytes:
    """A variable-length quantity (RP-001)."""
    digits = [value & 0x7F]
    while value := value >> 7:
        digits.append(0x80 | value & 0x7F)
    return bytes(reversed(digits))


def _plays(track: TrackEvents) -> bool:
    return bool(((track.status & KIND == NOTE_ON) & (track.status < SYSTEM)).any())


def _has(track: TrackEvents, kind: int) -> bool:
    return bool(((track.status == META) & (track.data1 == kind)).any())


def _name_event(name: str) -> bytes:
    text = name.encode("utf-8")[:_LONGEST_NAME]
    return b"\x00\xff\x03" + _quantity(len(text)) + text


def _first_name(data: bytes, track: TrackEvents, name: str) -> int:
    text = name.encode("utf-8")[:_LONGEST_NAME]
    for row in np.flatnonzero((track.status == META) & (track.data1 == _NAME)).tolist():
        if data[int(track.payload_at[row]) : int(track.stop[row])] == text:
            return int(row)
    raise AssertionError("a track lost the name that it was given")


def _body(read: Scan, track: int) -> bytes:
    chunk = read.tracks[track].chunk
    return read.data[chunk.body : chunk.end]


def _contradictions(members: Sequence[Member]) -> tuple[str, ...]:
    """What files state otherwise than the last that states it, which is the one that holds."""
    said = []
    for kind, what in ((_TEMPO, "tempo"), (_METER, "meter")):
        stated = [(m.name, _stated(m, kind)) for m in members]
        stated = [(name, events) for name, events in stated if events]
        if len({events for _, events in stated}) > 1:
            names = ", ".join(name for name, _ in stated)
            said.append(
                f"The files state more than one {what} ({names}); that of {stated[-1][0]} holds."
            )
    return tuple(said)


def _stated(member: Member, kind: int) -> tuple[tuple[int, bytes], ...]:
    """The events of one kind of a file, at the ticks of the whole."""
    found: list[tuple[int, bytes]] = []
    for track in member.scan.tracks:
        for row in np.flatnonzero((track.status == META) & (track.data1 == kind)).tolist():
            payload = member.scan.data[int(track.payload_at[row]) : int(track.stop[row])]
            size = 3 if kind == _TEMPO else 2
            found.append((int(track.tick[row]) * member.times, payload[:size]))
    return tuple(sorted(found))
