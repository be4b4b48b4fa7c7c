"""How do the files of one arrangement become one file, and how is that one parted again?

Many music programs export one file a part. Their tracks are laid beside each other, each file from
the tick at which it begins, at a resolution that all of theirs divide, so that no event moves.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from math import lcm

import numpy as np

from basslint.errors import Unsupported
from basslint.smf.scan import META, Scan, TrackEvents, scan
from basslint.smf.status import KIND, NOTE_ON, SYSTEM
from basslint.smf.wrapper import wrapped
from basslint.util.records import record

_FINEST = 0x7FFF  # ticks per quarter that a header can hold (RP-001)
_NAME, _TEMPO, _METER = 0x03, 0x51, 0x58
_LONGEST_NAME = 100  # bytes of a file's name that become a track's


@record
class MidiFile:
    """A file to be laid beside others: its name, its bytes, and what they hold."""

    name: str
    raw: bytes
    scan: Scan


@record(kw_only=True)
class Member:
    """One file of an arrangement, and where its tracks come in."""

    file: MidiFile
    first_track: int
    times: int  # ticks of the whole per tick of its own
    begins: int  # tick of the whole at which it begins
    named: frozenset[int]  # its tracks (from 0) that were given the file's name


@record
class Joined:
    """A file of all tracks, in the order of the members, and plain sentences on what differs."""

    data: bytes
    members: tuple[Member, ...]
    remarks: tuple[str, ...]

    def index_of(self, track: int) -> int:
        """Which of the members a track of the whole comes from."""
        return sum(1 for member in self.members if member.first_track <= track) - 1


def common_division(files: Sequence[MidiFile]) -> int:
    """The resolution that all files divide. Raises `Unsupported` where none can be stated."""
    division = lcm(*(file.scan.division for file in files))
    if division > _FINEST:
        raise Unsupported(
            "The resolutions of the files have no common one that a MIDI file can state: "
            f"{', '.join(str(file.scan.division) for file in files)} ticks a quarter.",
            "Export all of them at one resolution.",
        )
    return division


def join(files: Sequence[MidiFile], begins: Sequence[int] = ()) -> Joined:
    """Lay files beside each other. Raises `Unsupported` where no resolution suits them all.

    ``begins``: the tick of the whole at which each file begins; all at its start unless given.
    """
    division = common_division(files)
    members: list[Member] = []
    chunks: list[bytes] = []
    for file, start in zip(files, begins or [0] * len(files), strict=True):
        read, times = file.scan, division // file.scan.division
        unnamed = frozenset(t.index for t in read.tracks if _plays(t) and not _has(t, _NAME))
        members.append(
            Member(file=file, first_track=len(chunks), times=times, begins=start, named=unnamed)
        )
        for track in read.tracks:
            lead = _name_event(file.name) if track.index in unnamed else b""
            chunks.append(lead + _retimed(read.data, track, track.tick * times + start))
    head = struct.pack(">4sIHHH", b"MThd", 6, 1, len(chunks), division)
    data = head + b"".join(b"MTrk" + struct.pack(">I", len(c)) + c for c in chunks)
    return Joined(data, tuple(members), _contradictions(members))


def parted(whole: Joined, mended: bytes) -> dict[int, bytes]:
    """The files that differ once the whole was mended, by index of the member; the others stay."""
    before, after = scan(whole.data), scan(mended)
    result: dict[int, bytes] = {}
    for index, member in enumerate(whole.members):
        own = member.file.scan
        changed = {
            track.index: after.tracks[member.first_track + track.index]
            for track in own.tracks
            if _body(before, member.first_track + track.index)
            != _body(after, member.first_track + track.index)
        }
        if changed:
            data = _rewritten(member, changed, after.data)
            result[index] = wrapped(member.file.raw, own.base, len(own.data), data)
    return result


def _rewritten(member: Member, changed: dict[int, TrackEvents], data: bytes) -> bytes:
    """A member's bytes with some tracks as they stand in the mended whole."""
    own, out, at = member.file.scan, bytearray(), 0
    for index, track in sorted(changed.items()):
        chunk = own.tracks[index].chunk
        rows = np.ones(len(track), dtype=bool)
        if index in member.named:
            rows[_first_name(data, track, member.file.name)] = False
        tick = np.rint((track.tick - member.begins) / member.times).astype(np.int64)
        tick = np.maximum(tick, 0)  # what mending moved before the file begins stands at its start
        body = _retimed(data, track, tick, rows)
        out += own.data[at : chunk.offset] + b"MTrk" + struct.pack(">I", len(body)) + body
        at = chunk.end
    return bytes(out + own.data[at:])


def _retimed(
    data: bytes, track: TrackEvents, tick: np.ndarray, rows: np.ndarray | None = None
) -> bytes:
    """A track's events as they stand, at other ticks; ``rows`` bool: those that are kept."""
    out, now = bytearray(), 0
    kept = range(len(track)) if rows is None else rows.nonzero()[0].tolist()
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
    for row in ((track.status == META) & (track.data1 == _NAME)).nonzero()[0].tolist():
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
        stated = [(m.file.name, _stated(m, kind)) for m in members]
        stated = [(name, events) for name, events in stated if events]
        if len({events for _, events in stated}) > 1:
            names = ", ".join(name for name, _ in stated)
            said.append(
                f"The files state more than one {what} ({names}); that of {stated[-1][0]} holds."
            )
    return tuple(said)


def _stated(member: Member, kind: int) -> tuple[tuple[int, bytes], ...]:
    """The events of one kind of a file, at ticks of the whole from where the file begins."""
    found: list[tuple[int, bytes]] = []
    for track in member.file.scan.tracks:
        for row in ((track.status == META) & (track.data1 == kind)).nonzero()[0].tolist():
            payload = member.file.scan.data[int(track.payload_at[row]) : int(track.stop[row])]
            size = 3 if kind == _TEMPO else 2
            found.append((int(track.tick[row]) * member.times, payload[:size]))
    return tuple(sorted(found))
