"""Songs of block chords as MIDI bytes, read the way a file is."""

from __future__ import annotations

import io
from collections.abc import Sequence

import mido

from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

Note = tuple[float, float, int]  # start and end in quarters, pitch


def song_of(
    *parts: Sequence[Note],
    meter: tuple[int, int] = (4, 4),
    changes: Sequence[tuple[float, int, int]] = (),
    tpq: int = 96,
) -> Song:
    """A song with one part per channel; ``changes``: later meters as (quarter, numerator, unit)."""
    midi = mido.MidiFile(type=1, ticks_per_beat=tpq)
    conductor, now = mido.MidiTrack(), 0
    for quarter, numerator, denominator in ((0.0, *meter), *changes):
        tick = round(quarter * tpq)
        conductor.append(
            mido.MetaMessage(
                "time_signature", numerator=numerator, denominator=denominator, time=tick - now
            )
        )
        now = tick
    midi.tracks.append(conductor)
    for channel, notes in enumerate(parts):
        events = [(round(e * tpq), 0, p) for _, e, p in notes]
        events += [(round(s * tpq), 1, p) for s, _, p in notes]
        track, now = mido.MidiTrack(), 0
        for tick, on, pitch in sorted(events):
            kind = "note_on" if on else "note_off"
            track.append(
                mido.Message(kind, channel=channel, note=pitch, velocity=80, time=tick - now)
            )
            now = tick
        midi.tracks.append(track)
    out = io.BytesIO()
    midi.save(file=out)
    return build(scan(out.getvalue()))


def blocks(chords: Sequence[Sequence[int]], each: float = 4.0, begin: float = 0.0) -> list[Note]:
    return [
        (begin + i * each, begin + (i + 1) * each, pitch)
        for i, chord in enumerate(chords)
        for pitch in chord
    ]
