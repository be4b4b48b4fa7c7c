"""What does the file play? The arrangement as parts, notes and changes over time.

A Song holds facts of the file alone: nothing here is guessed or judged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.errors import TooLarge
from basslint.smf.scan import DEFAULT_LIMITS, META, Scan
from basslint.text import visible
from basslint.timing import BarGrid, TempoMap, bar_count, bar_grid

if TYPE_CHECKING:
    import pretty_midi

NEVER = -1  # off_row of a note whose end the file does not hold

_NAME, _INSTRUMENT, _MARKER, _CUE, _PREFIX = 0x03, 0x04, 0x06, 0x07, 0x20
_TEMPO, _METER, _KEY = 0x51, 0x58, 0x59


@dataclass(frozen=True, slots=True, eq=False)
class Notes:
    """Notes as columns of shape [n], sorted by start, then pitch, then part.

    ``start``, ``end`` int64 ticks; ``pitch`` int16 MIDI number; ``velocity`` int16; ``part`` int32
    index into ``Song.parts``; ``on_row``, ``off_row`` int64: rows of the note-on and note-off in
    the track's events, ``off_row`` = `NEVER` where the file never ends the note (its ``end`` is
    then the end of the song).
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int16]
    velocity: NDArray[np.int16]
    part: NDArray[np.int32]
    on_row: NDArray[np.int64]
    off_row: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.start)

    def take(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> Notes:
        """The notes of a mask or of row numbers, in that order."""
        return Notes(
            self.start[rows],
            self.end[rows],
            self.pitch[rows],
            self.velocity[rows],
            self.part[rows],
            self.on_row[rows],
            self.off_row[rows],
        )


@dataclass(frozen=True, slots=True)
class Part:
    """One (track, channel) pair that has notes. ``number`` counts from 1, ``channel`` is 1–16.

    ``program`` is the MIDI program 0–127 in force at the part's first note, None where none is set.
    ``track_name`` is what the file says, ``name`` tells parts that share a track apart.
    """

    number: int
    track: int
    channel: int
    name: str
    track_name: str
    program: int | None
    notes: int
    lowest: int
    highest: int


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """Channel messages other than notes as columns [n], by tick, then track, then file order.

    ``kind`` uint8: the status nibble (0xB0 controller, 0xC0 program, 0xD0 and 0xA0 pressure,
    0xE0 bend); ``channel`` int16 1–16; ``number`` int16: controller or program number; ``value``
    int16: controller value, or bend −8192..8191; ``row`` int64: row in the track's events.
    """

    tick: NDArray[np.int64]
    kind: NDArray[np.uint8]
    track: NDArray[np.int32]
    channel: NDArray[np.int16]
    number: NDArray[np.int16]
    value: NDArray[np.int16]
    row: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.tick)

    def take(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> Changes:
        """The changes of a mask or of row numbers, in that order."""
        return Changes(
            self.tick[rows],
            self.kind[rows],
            self.track[rows],
            self.channel[rows],
            self.number[rows],
            self.value[rows],
            self.row[rows],
        )


@dataclass(frozen=True, slots=True)
class Marker:
    """A marker or cue point of any track."""

    tick: int
    text: str


@dataclass(frozen=True, eq=False)
class Song:
    """A whole arrangement. ``end_tick`` is the last event of any track."""

    scan: Scan
    division: int
    parts: tuple[Part, ...]
    notes: Notes
    changes: Changes
    tempo: TempoMap
    grid: BarGrid
    markers: tuple[Marker, ...]
    end_tick: int
    warnings: tuple[str, ...]

    @cached_property
    def seconds(self) -> float:
        """Length of the song in seconds."""
        return self.tempo.seconds(self.end_tick)

    def notes_of(self, *parts: int) -> Notes:
        """The notes of some parts (indexes into ``parts``), in order of time."""
        if len(parts) == 1:
            return self.notes.take(self.notes.part == parts[0])
        return self.notes.take(np.isin(self.notes.part, parts))

    def to_pretty_midi(self) -> pretty_midi.PrettyMIDI:
        """The song as a `pretty_midi.PrettyMIDI`, see `basslint.bridge.to_pretty_midi`."""
        from basslint.bridge import to_pretty_midi

        return to_pretty_midi(self)


def build(scan: Scan, max_bars: int = DEFAULT_LIMITS.max_bars) -> Song:
    """Turn scanned bytes into a Song. Raises `TooLarge` where the bars would pass ``max_bars``."""
    warnings = list(scan.warnings)
    end_tick = max((int(t.tick[-1]) for t in scan.tracks if len(t)), default=0)
    tempo, meter, markers, names = _read_metas(scan, warnings)
    bars = bar_count(end_tick, meter, scan.division)
    if bars > max_bars:
        raise TooLarge(
            f"The song would be {bars:,} bars long; basslint reads up to {max_bars:,}.",
            "Check the delta times: one of them is far too long.",
        )
    notes, changes = _read_channels(scan, end_tick, warnings)
    parts, part = _find_parts(scan, notes, changes, names)
    order = np.lexsort((part, notes.pitch, notes.start))
    notes = replace(notes, part=part).take(order)
    return Song(
        scan=scan,
        division=scan.division,
        parts=parts,
        notes=notes,
        changes=changes,
        tempo=tempo,
        grid=bar_grid(end_tick, meter, scan.division),
        markers=markers,
        end_tick=end_tick,
        warnings=tuple(warnings),
    )


@dataclass(slots=True)
class _Names:
    track: dict[int, str]
    channel: dict[tuple[int, int], str]


def _read_metas(
    scan: Scan, warnings: list[str]
) -> tuple[TempoMap, list[tuple[int, int, int]], tuple[Marker, ...], _Names]:
    """Read tempo, meter, markers and names from every track (not only the first)."""
    tempo: list[tuple[int, int]] = []
    meter: list[tuple[int, int, int]] = []
    markers: list[Marker] = []
    names = _Names({}, {})
    for track in scan.tracks:
        prefix: int | None = None
        for row in np.flatnonzero(track.status == META).tolist():
            tick, kind = int(track.tick[row]), int(track.data1[row])
            body = scan.data[int(track.payload_at[row]) : int(track.stop[row])]
            where = f"track {track.index}, byte {scan.base + int(track.at[row])}"
            if kind == _TEMPO:
                usec = int.from_bytes(body[:3], "big")
                if len(body) < 3 or usec == 0:
                    warnings.append(f"A tempo that is no tempo was ignored ({where}).")
                else:
                    tempo.append((tick, usec))
            elif kind == _METER:
                if len(body) < 2 or body[0] == 0 or body[1] > 6:
                    warnings.append(f"A time signature that is none was ignored ({where}).")
                else:
                    meter.append((tick, body[0], 1 << body[1]))
            elif kind == _KEY:
                sharps = int.from_bytes(body[:1], signed=True)
                if len(body) < 2 or not -7 <= sharps <= 7 or body[1] > 1:
                    warnings.append(f"A key signature that is none was ignored ({where}).")
            elif kind in (_MARKER, _CUE):
                markers.append(Marker(tick, visible(body)))
            elif kind == _PREFIX and body:
                prefix = body[0] & 0x0F
            elif kind in (_NAME, _INSTRUMENT) and body.strip():
                if prefix is not None:
                    names.channel.setdefault((track.index, prefix + 1), visible(body))
                elif kind == _NAME or track.index not in names.track:
                    names.track.setdefault(track.index, visible(body))
    tempo.sort(key=lambda t: t[0])
    meter.sort(key=lambda m: m[0])
    markers.sort(key=lambda m: m.tick)
    ticks = np.array([t[0] for t in tempo], dtype=np.int64)
    usecs = np.array([t[1] for t in tempo], dtype=np.int64)
    return TempoMap.of(ticks, usecs, scan.division), meter, tuple(markers), names


def _read_channels(scan: Scan, end_tick: int, warnings: list[str]) -> tuple[Notes, Changes]:
    """Gather the channel messages of all tracks; ``Notes.part`` holds track*16+channel for now."""
    sizes = [len(t) for t in scan.tracks]
    track = np.repeat(np.arange(len(sizes), dtype=np.int32), sizes)
    row = np.concatenate([np.arange(s, dtype=np.int64) for s in sizes])
    tick = np.concatenate([t.tick for t in scan.tracks])
    status = np.concatenate([t.status for t in scan.tracks])
    data1 = np.concatenate([t.data1 for t in scan.tracks]).astype(np.int16)
    data2 = np.concatenate([t.data2 for t in scan.tracks]).astype(np.int16)
    nibble = status & 0xF0
    voice = track * 16 + (status & 0x0F)

    is_note = (nibble == 0x80) | (nibble == 0x90)
    notes = _pair_notes(
        tick[is_note],
        (nibble[is_note] == 0x90) & (data2[is_note] > 0),
        data1[is_note],
        data2[is_note],
        voice[is_note],
        row[is_note],
        end_tick,
        warnings,
    )
    other = np.flatnonzero((status >= 0xA0) & (status < 0xF0))
    other = other[np.argsort(tick[other], kind="stable")]
    kind = nibble[other].astype(np.uint8)
    bend = kind == 0xE0
    changes = Changes(
        tick[other],
        kind,
        track[other],
        (status[other] & 0x0F).astype(np.int16) + np.int16(1),
        np.where(bend, 0, data1[other]).astype(np.int16),
        np.where(bend, data1[other] + 128 * data2[other] - 8192, data2[other]).astype(np.int16),
        row[other],
    )
    return notes, changes


def _pair_notes(
    tick: NDArray[np.int64],
    is_on: NDArray[np.bool_],
    pitch: NDArray[np.int16],
    velocity: NDArray[np.int16],
    voice: NDArray[np.int32],
    row: NDArray[np.int64],
    end_tick: int,
    warnings: list[str],
) -> Notes:
    """Pair each note-on with its note-off: first opened, first closed, on one key of one voice.

    Vectorised: on each key the k-th note-on takes the k-th note-off that found a note open. An
    off is stray where the running balance of ons and offs sinks below all it has been before.
    """
    key = voice.astype(np.int64) * 128 + pitch
    order = np.argsort(key, kind="stable")  # file order is kept inside a key
    key, on = key[order], is_on[order]
    first = np.append(True, key[1:] != key[:-1])[: len(key)]
    group = np.cumsum(first) - 1
    balance = np.cumsum(np.where(on, 1, -1))
    base = np.where(on, 1, -1)[first]  # balance restarts at each key
    balance = balance - (balance[first] - base)[group] if len(key) else balance
    # the lowest balance so far inside each key: a falling offset keeps the keys apart
    drop = group * (2 * len(key) + 2)
    lowest = np.minimum.accumulate(np.minimum(balance, 0) - drop) + drop
    before = np.append(0, lowest[:-1])[: len(key)]
    before[first] = 0
    stray = ~on & (balance < before)
    ons = np.flatnonzero(on)
    offs = np.flatnonzero(~on & ~stray)
    nth_on = _rank(group[ons])
    nth_off = _rank(group[offs])
    size = len(key) + 1
    found = np.searchsorted(group[offs] * size + nth_off, group[ons] * size + nth_on)
    found_safe = np.minimum(found, max(len(offs) - 1, 0))
    has_off = np.zeros(len(ons), dtype=bool)
    if len(offs):
        match = offs[found_safe]
        has_off = (
            (found < len(offs)) & (group[match] == group[ons]) & (nth_off[found_safe] == nth_on)
        )
    on_at = order[ons]
    off_at = order[offs[found_safe]] if len(offs) else np.zeros(len(ons), dtype=np.int64)
    if stray.any():
        warnings.append(f"{int(stray.sum())} note-offs close no open note and were ignored.")
    return Notes(
        tick[on_at],
        np.where(has_off, tick[off_at] if len(tick) else 0, end_tick).astype(np.int64),
        pitch[on_at],
        velocity[on_at],
        voice[on_at],
        row[on_at],
        np.where(has_off, row[off_at] if len(row) else 0, NEVER).astype(np.int64),
    )


def _rank(group: NDArray[np.int64]) -> NDArray[np.int64]:
    """Place of each entry inside its run of equal values."""
    first = np.append(True, group[1:] != group[:-1])[: len(group)]
    begin = np.flatnonzero(first)
    rank: NDArray[np.int64] = np.arange(len(group)) - begin[np.cumsum(first) - 1]
    return rank


def _find_parts(
    scan: Scan, notes: Notes, changes: Changes, names: _Names
) -> tuple[tuple[Part, ...], NDArray[np.int32]]:
    """Number the (track, channel) pairs that have notes, in order of track and channel."""
    voices, index = np.unique(notes.part, return_inverse=True)
    shared = np.bincount(voices // 16, minlength=len(scan.tracks)) > 1
    programs = changes.take(changes.kind == 0xC0)
    parts: list[Part] = []
    for number, voice in enumerate(voices.tolist(), start=1):
        track, channel = voice // 16, voice % 16 + 1
        mine = notes.part == voice
        track_name = names.channel.get((track, channel)) or names.track.get(track, "")
        own = (track, channel) in names.channel
        name = track_name or f"track {track}"
        if shared[track] and not own:
            name = f"{name} ch {channel}"
        begin = int(notes.start[mine].min())
        # a program set on any track holds for the whole channel (MIDI 1.0)
        set_before = programs.number[(programs.channel == channel) & (programs.tick <= begin)]
        pitch = notes.pitch[mine]
        parts.append(
            Part(
                number,
                track,
                channel,
                name,
                track_name,
                int(set_before[-1]) if len(set_before) else None,
                int(mine.sum()),
                int(pitch.min()),
                int(pitch.max()),
            )
        )
    return tuple(parts), index.astype(np.int32)
