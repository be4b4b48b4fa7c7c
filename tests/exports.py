"""The same song, exported otherwise: other ticks, parts in another order, bars put in front."""

from __future__ import annotations

import io
from collections.abc import Sequence

import mido

Voice = list[tuple[int, mido.Message | mido.MetaMessage]]  # absolute ticks


def voices(data: bytes) -> tuple[mido.MidiFile, list[Voice]]:
    """A file with its tracks as events at absolute ticks."""
    file = mido.MidiFile(file=io.BytesIO(data))
    told = []
    for track in file.tracks:
        now, events = 0, []
        for message in track:
            now += message.time
            events.append((now, message))
        told.append(events)
    return file, told


def written(division: int, kind: int, tracks: Sequence[Voice]) -> bytes:
    """Tracks as a file."""
    file = mido.MidiFile(type=kind, ticks_per_beat=division)
    for events in tracks:
        track, now = mido.MidiTrack(), 0
        for tick, message in sorted(events, key=lambda e: e[0]):
            track.append(message.copy(time=tick - now))
            now = tick
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def with_division(data: bytes, division: int) -> bytes:
    """The song with other ticks per quarter note."""
    file, tracks = voices(data)
    by = division / file.ticks_per_beat
    scaled = [[(round(tick * by), m) for tick, m in events] for events in tracks]
    return written(division, file.type, scaled)


def with_parts_turned(data: bytes) -> bytes:
    """The song with its parts in reverse order, after the track that holds tempo and meter."""
    file, tracks = voices(data)
    return written(file.ticks_per_beat, file.type, [tracks[0], *reversed(tracks[1:])])


def with_bars_in_front(data: bytes, bars: int = 1) -> bytes:
    """The song with empty 4/4 bars in front; tempo, meter, names and sounds stay at the start."""
    file, tracks = voices(data)
    by = 4 * bars * file.ticks_per_beat
    kept = ("note_on", "note_off", "pitchwheel", "end_of_track", "marker")
    moved = [
        [(tick + by if tick or m.type in kept else tick, m) for tick, m in events]
        for events in tracks
    ]
    return written(file.ticks_per_beat, file.type, moved)
