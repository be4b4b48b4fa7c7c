"""Songs for the tests of phrase hearing: loops, tunes and intros, written as quarters."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence

import mido

from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

TPQ = 96
Note = tuple[float, float, int]  # start and length in quarters, pitch
LOOP = (57, 53, 48, 55)  # roots of a loop of four bars: A F C G
LONG_LOOP = (57, 53, 48, 55, 57, 53, 50, 52)
TUNE = (69, 72, 71, 67, 69, 64, 67, 71)


def song_of(
    lines: Mapping[str, Iterable[Note]],
    meters: Sequence[tuple[float, int, int]] = ((0, 4, 4),),
    markers: Sequence[tuple[float, str]] = (),
    marker_track: int = 0,
) -> Song:
    """A song of named lines; meters and markers at quarters from the start."""
    tracks: list[list[tuple[float, int, mido.Message | mido.MetaMessage]]] = [[]]
    for at, over, under in meters:
        meter = mido.MetaMessage("time_signature", numerator=over, denominator=under)
        tracks[0].append((at, 0, meter))
    for number, (name, notes) in enumerate(lines.items()):
        channel = 9 if name == "Drums" else number
        events = [(0.0, 0, mido.MetaMessage("track_name", name=name))]
        for start, length, pitch in notes:
            on = mido.Message("note_on", channel=channel, note=pitch, velocity=90)
            off = mido.Message("note_off", channel=channel, note=pitch)
            events += [(start, 2, on), (start + length, 1, off)]
        tracks.append(events)
    tracks[marker_track] += [(at, 0, mido.MetaMessage("marker", text=t)) for at, t in markers]
    midi = mido.MidiFile(ticks_per_beat=TPQ)
    for events in tracks:
        track, now = mido.MidiTrack(), 0
        for at, _, message in sorted(events, key=lambda e: e[:2]):
            track.append(message.copy(time=round(at * TPQ) - now))
            now = round(at * TPQ)
        midi.tracks.append(track)
    out = io.BytesIO()
    midi.save(file=out)
    return build(scan(out.getvalue()))


def keys(first: int, bars: int, loop: Sequence[int] = LOOP, beats: float = 4) -> list[Note]:
    return [
        ((first + i) * beats, beats, loop[i % len(loop)] + third)
        for i in range(bars)
        for third in (0, 4, 7)
    ]


def drums(first: int, bars: int, beats: int = 4) -> list[Note]:
    hits = [(0.0, 36), (beats / 2, 38), *((n / 2, 42) for n in range(2 * beats))]
    return [((first + i) * beats + at, 0.25, p) for i in range(bars) for at, p in hits]


def bass(first: int, bars: int, loop: Sequence[int] = LOOP, beats: int = 4) -> list[Note]:
    places = (0, 1.5) if beats == 3 else (0, 1.5, 3)
    return [
        ((first + i) * beats + at, 1, loop[i % len(loop)] - 24)
        for i in range(bars)
        for at in places
    ]


def tune(first: int, bars: int) -> list[Note]:
    """Four bars that breathe in the last: two quarters and a half note, a pickup of two eighths."""
    notes: list[Note] = []
    for i in range(0, bars, 4):
        top = (first + i) * 4
        places = (-1, -0.5, 0, 1, 2, 4, 5, 6, 8, 9, 10, 12)
        notes += [
            (max(top + at, 0), 0.5, TUNE[(n + i // 4 % 2) % 8]) for n, at in enumerate(places)
        ]
    return notes


def full(first: int, bars: int, loop: Sequence[int] = LOOP) -> dict[str, list[Note]]:
    return {
        "Keys": keys(first, bars, loop),
        "Drums": drums(first, bars),
        "Bass": bass(first, bars, loop),
    }
