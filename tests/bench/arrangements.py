"""Whole arrangements of any length, for measuring speed: what a finished session exports.

Verse and hook take turns, layers come and go, players are a little early or late, every part moves
its controllers, the sub slides and now and then misses its root. Deterministic by seed.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from midi_bytes import Event, header, meta, track

DIVISION = 480
_BAR = 4 * DIVISION
_LOOPS = (  # chords as pitch classes, root first; four to a loop
    ((9, 0, 4), (5, 9, 0), (0, 4, 7), (7, 11, 2)),
    ((9, 0, 4), (2, 5, 9), (4, 7, 11), (9, 0, 4)),
    ((5, 9, 0), (7, 11, 2), (9, 0, 4), (4, 7, 11)),
)
_SECTION = 16  # bars
Timed = tuple[int, int, bytes]  # tick, order at that tick, event


def _note(events: list[Timed], channel: int, pitch: int, start: int, end: int, loud: int) -> None:
    events.append((start, 2, bytes((0x90 | channel, pitch, loud))))
    events.append((max(end, start + 1), 0, bytes((0x80 | channel, pitch, 64))))


def _sweep(rng: random.Random, events: list[Timed], channel: int, bar: int, moves: int) -> None:
    """Controllers as a hand or a drawn curve leaves them."""
    number = rng.choice((1, 7, 11, 74))
    for k in range(moves):
        tick = bar * _BAR + k * _BAR // moves + rng.randrange(8)
        events.append((tick, 1, bytes((0xB0 | channel, number, rng.randrange(128)))))


def arrangement(notes: int, seed: int = 0) -> bytes:
    """A Standard MIDI File of about ``notes`` notes; twice that many note events, and controllers.

    8,000 notes are about 150 bars and 26,000 events.
    """
    rng = random.Random(seed)
    names = ("Keys", "Pad", "Lead", "Arp", "Sub", "Drums")
    channels = (0, 1, 2, 3, 4, 9)
    parts: dict[str, list[Timed]] = {name: [] for name in names}

    def late() -> int:
        return rng.randrange(0, 9)

    made = bar = 0
    while made < notes:
        section = bar // _SECTION
        hook = section % 2 == 1
        chord = _LOOPS[(2 if section % 6 == 5 else int(hook))][bar % 4]
        at = bar * _BAR
        root, tones = chord[0], [pc + 48 + 12 * (pc < 7) for pc in chord]
        bare = section == 0 and bar < 4
        before = sum(len(p) for p in parts.values())
        for half in range(2):
            for tone in tones:
                start = at + half * _BAR // 2 + late()
                _note(parts["Keys"], 0, tone, start, start + 900, 60 + rng.randrange(30))
        if hook or bare:
            for tone in tones:
                _note(parts["Pad"], 1, tone + 12, at + late(), at + _BAR - 10, 55)
        for k in range(16):
            start = at + k * 120 + late()
            _note(parts["Arp"], 3, tones[k % 3] + 12, start, start + 100, 50 + rng.randrange(30))
        if not bare:
            for k in range(16):
                _note(parts["Drums"], 9, 42, at + k * 120, at + k * 120 + 50, rng.randrange(40, 90))
            for k in (0, 6, 10):
                _note(parts["Drums"], 9, 36, at + k * 120, at + k * 120 + 60, 110)
            for k in (4, 12):
                _note(parts["Drums"], 9, 38, at + k * 120, at + k * 120 + 60, 105)
            low = 28 + (root - 4) % 12
            wrong = rng.random() < 0.03
            for k, length in ((0, 700), (6, 460), (10, 700)):
                pitch = low + (1 if wrong and k == 10 else 0)
                start = at + k * 120
                _note(parts["Sub"], 4, pitch, start, start + length, 100)
            if bar % 8 == 7:  # a slide into the next phrase: two notes that overlap
                _note(parts["Sub"], 4, low + 7, at + 15 * 120, at + _BAR + 30, 90)
        if hook:
            for k in range(8):
                if rng.random() < 0.8:
                    tone = rng.choice(tones) + 24
                    start = at + k * 240 + late()
                    _note(parts["Lead"], 2, tone, start, start + 220, 70 + rng.randrange(40))
        made += (sum(len(p) for p in parts.values()) - before) // 2
        for name, channel in zip(names, channels, strict=True):
            _sweep(rng, parts[name], channel, bar, 11)
        bar += 1
    head: list[Event] = [
        (0, meta(3, b"Night arrangement")),
        (0, meta(0x51, (428_571).to_bytes(3, "big"))),
        (0, meta(0x58, b"\x04\x02\x18\x08")),
    ]
    bodies = [track(*head)]
    for name in names:
        events = [(0, meta(3, name.encode()))]
        now = 0
        for tick, _, event in sorted(parts[name], key=lambda e: e[:2]):
            events.append((tick - now, event))
            now = tick
        bodies.append(track(*events))
    return header(1, len(bodies), DIVISION) + b"".join(bodies)
