"""Songs with slides in every way that MIDI writes them, with what is true of each.

Built from bytes by RP-001 and the MIDI 1.0 detailed specification alone, not by the package.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from midi_bytes import meta, midi, track

from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

DIVISION = 480
Event = tuple[int, bytes]  # absolute tick, message


def note(
    start: int, end: int, pitch: int, channel: int = 1, velocity: int = 100
) -> tuple[Event, Event]:
    """A note as its two messages."""
    return (
        (start, bytes((0x8F + channel, pitch, velocity))),
        (end, bytes((0x7F + channel, pitch, 0))),
    )


def control(tick: int, number: int, value: int, channel: int = 1) -> Event:
    """A controller."""
    return tick, bytes((0xAF + channel, number, value))


def wheel(tick: int, value: int, channel: int = 1) -> Event:
    """The pitch wheel at −8192..8191: fourteen bits, LSB first, centre 8192 (MIDI 1.0)."""
    raw = value + 8192
    return tick, bytes((0xDF + channel, raw & 0x7F, raw >> 7))


def bend_range(
    tick: int, semitones: float, channel: int = 1, order: str = "msb lsb coarse fine"
) -> list[Event]:
    """RPN 0 by controllers 101 (msb), 100 (lsb), 6 (coarse), 38 (fine), then the null selection."""
    coarse, fine = int(semitones), round(semitones % 1 * 100)
    message = {
        "msb": control(tick, 101, 0, channel),
        "lsb": control(tick, 100, 0, channel),
        "coarse": control(tick, 6, coarse, channel),
        "fine": control(tick, 38, fine, channel),
        "null": control(tick, 101, 127, channel),
        "null2": control(tick, 100, 127, channel),
    }
    return [message[word] for word in order.split()]


def to_wheel(semitones: float, reach: float) -> int:
    """The wheel value nearest to a bend of some semitones."""
    return max(-8192, min(8191, round(semitones / reach * 8192)))


def ramp(
    points: Sequence[tuple[int, float]], reach: float, every: int, channel: int = 1
) -> list[Event]:
    """The wheel along straight lines between (tick, semitones) points, an event every few ticks."""
    events = [wheel(points[0][0], to_wheel(points[0][1], reach), channel)]
    for (t0, v0), (t1, v1) in pairwise(points):
        for tick in [*range(t0 + every, t1, every), t1]:
            value = v0 + (v1 - v0) * (tick - t0) / (t1 - t0) if t1 > t0 else v1
            events.append(wheel(tick, to_wheel(value, reach), channel))
    return events


def song_of(
    *events: Event | Iterable[Event], tempo: int = 500_000, division: int = DIVISION
) -> Song:
    """A one-track song; events of one tick keep the order in which they are given."""
    flat: list[Event] = []
    for item in events:
        flat += [item] if isinstance(item, tuple) and isinstance(item[0], int) else list(item)
    return songs_of(flat, tempo=tempo, division=division)


def songs_of(*tracks: Sequence[Event], tempo: int = 500_000, division: int = DIVISION) -> Song:
    """A song of several tracks, the tempo in one before them."""
    return build(scan(midi_of(*tracks, tempo=tempo, division=division)))


def midi_of(*tracks: Sequence[Event], tempo: int = 500_000, division: int = DIVISION) -> bytes:
    """The same as bytes, in 4/4."""
    meter = meta(0x58, bytes((4, 2, 24, 8)))
    bodies = [track((0, meter), (0, meta(0x51, tempo.to_bytes(3, "big"))))]
    for events in tracks:
        now, deltas = 0, []
        for tick, message in sorted(events, key=lambda e: e[0]):
            deltas.append((tick - now, message))
            now = tick
        bodies.append(track(*deltas))
    return midi(*bodies, division=division)


def bent(*points: tuple[int, float], reach: float = 12, every: int = 15) -> list[object]:
    return [bend_range(0, reach), ramp(points, reach, every)]
