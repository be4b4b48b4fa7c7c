"""Pads, keys, arpeggios, melodies and drums of generated beats."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from bench.beat_harmony import voicing
from bench.beat_model import STEPS, Chord, Fill, Note

KICK, SNARE, CLAP, CLOSED_HAT, OPEN_HAT = 36, 38, 39, 42, 46

_COMPS = ((0,), (0, 8), (0, 6, 12), (0, 3, 6, 10), (4, 12), (0, 4, 8, 12), (2, 6, 10, 14))
# kick and bass of half-time beats: sixteenths of the bar
CELLS = (
    (0,),
    (0, 10),
    (0, 6, 10),
    (0, 3, 10),
    (0, 6),
    (0, 11, 14),
    (0, 7, 10),
    (0, 3, 6, 11),
    (0, 10, 14),
    (0, 4, 10),
)


def pad(rng: random.Random, chords: Sequence[Chord], low: int) -> list[Note]:
    """Chords held from change to change."""
    notes: list[Note] = []
    near: list[int] = []
    for chord in chords:
        near = voicing(chord.pcs, near, low, low + 22)
        velocity = rng.randint(55, 75)
        notes += [Note(chord.start, chord.end, pitch, velocity) for pitch in near]
    return notes


def keys(rng: random.Random, chords: Sequence[Chord], low: int, step: int) -> list[Note]:
    """Chords in a rhythm, the same in every bar."""
    comp = rng.choice(_COMPS)
    bar = step * STEPS
    notes: list[Note] = []
    near: list[int] = []
    for chord in chords:
        near = voicing(chord.pcs, near, low, low + 22)
        first = chord.start // bar * bar
        hits = {
            at for n in range((chord.end - first) // bar + 1) for at in _hits(comp, first, n, step)
        }
        onsets = sorted({h for h in hits if chord.start <= h < chord.end} | {chord.start})
        for onset, until in zip(onsets, [*onsets[1:], chord.end], strict=True):
            length = min(until - onset, rng.choice((2, 4, 6)) * step)
            velocity = rng.randint(60, 95)
            notes += [Note(onset, onset + length, p, velocity + rng.randint(-5, 5)) for p in near]
    return notes


def _hits(comp: tuple[int, ...], first: int, n: int, step: int) -> list[int]:
    return [first + (n * STEPS + s) * step for s in comp]


def arpeggio(rng: random.Random, chords: Sequence[Chord], low: int, step: int) -> list[Note]:
    """Chord notes one after the other, in eighths or sixteenths."""
    grid = rng.choice((1, 2, 2)) * step
    order = rng.choice(("up", "down", "up-down", "free"))
    notes: list[Note] = []
    near: list[int] = []
    for chord in chords:
        near = voicing(chord.pcs, near, low, low + 22)
        turn = [*near, near[0] + 12]
        if order == "down":
            turn.reverse()
        elif order == "up-down":
            turn += turn[-2:0:-1]
        elif order == "free":
            rng.shuffle(turn)
        for n, onset in enumerate(range(chord.start, chord.end, grid)):
            end = min(onset + grid, chord.end)
            notes.append(Note(onset, end, turn[n % len(turn)], rng.randint(60, 95)))
    return notes


def melody(
    rng: random.Random, chords: Sequence[Chord], scale: frozenset[int], step: int
) -> list[Note]:
    """Two-bar motifs that repeat: chord notes on strong places, steps of the scale between."""
    bar = step * STEPS
    rhythm = sorted({*rng.sample(range(0, 32, 2), rng.randint(5, 10)), 0})
    shape = [rng.choice((-2, -1, -1, 0, 1, 1, 2)) for _ in rhythm]
    notes: list[Note] = []
    start, end = chords[0].start, chords[-1].end
    for top in range(start, end, 2 * bar):
        if rng.random() < 0.15:
            continue
        at = rng.choice((67, 69, 72, 74))
        for n, (place, move) in enumerate(zip(rhythm, shape, strict=True)):
            onset = top + place * step
            if onset >= end:
                break
            chord = next(c for c in chords if c.start <= onset < c.end)
            ladder = [p for p in range(60, 89) if p % 12 in (scale | set(chord.pcs))]
            near = min(ladder, key=lambda p: abs(p - at))
            at = ladder[max(0, min(len(ladder) - 1, ladder.index(near) + move))]
            if place % 8 == 0 or n == len(rhythm) - 1:  # strong places and the goal are chord notes
                at = min((p for p in ladder if p % 12 in chord.pcs), key=lambda p: abs(p - at))
            following = rhythm[n + 1] if n + 1 < len(rhythm) else 32
            length = min(
                (following - place) * step, rng.choice((2, 4, 8)) * step, chord.end - onset
            )
            notes.append(Note(onset, onset + length, at, rng.randint(75, 110)))
    return notes


def drums(
    rng: random.Random, bars: Sequence[int], cells: dict[int, tuple[int, ...]], step: int
) -> list[Note]:
    """Half-time drums: kick with the bass, backbeat on three, hats in eighths with ornaments."""
    backbeat = rng.choice((SNARE, CLAP))
    hats = rng.choice((2, 2, 1))
    notes: list[Note] = []
    for bar in bars:
        top = bar * STEPS * step
        notes += [_hit(top + at * step, step, KICK, rng.randint(105, 122)) for at in cells[bar]]
        notes.append(_hit(top + 8 * step, step, backbeat, rng.randint(100, 115)))
        for at in range(0, STEPS, hats):
            velocity = (90 if at % 4 == 0 else 70) + rng.randint(-8, 8)
            notes.append(_hit(top + at * step, step, CLOSED_HAT, velocity))
        if rng.random() < 0.25:
            notes.append(_hit(top + 14 * step, step, OPEN_HAT, 80))
    return notes


def _hit(tick: int, step: int, pitch: int, velocity: int) -> Note:
    return Note(tick, tick + step // 2, pitch, velocity)


def drum_roll(
    rng: random.Random, start: int, end: int, ticks: int, grid: str, hats: bool
) -> tuple[list[Note], Fill]:
    """A roll of hats or snare up to ``end``."""
    onsets = list(range(start, end, ticks))
    pitch = CLOSED_HAT if hats else SNARE
    velocities, shape = ramp(rng, len(onsets))
    notes = [
        Note(onset, onset + ticks // 2, pitch, v)
        for onset, v in zip(onsets, velocities, strict=True)
    ]
    return notes, Fill("drums", onsets[0], onsets[-1], len(onsets), grid, shape)


def ramp(rng: random.Random, count: int) -> tuple[list[int], str]:
    """Velocities that rise or fall through a roll."""
    low, high = rng.randint(50, 65), rng.randint(100, 118)
    shape = rng.choice(("rising", "falling"))
    values = [round(low + (high - low) * n / max(count - 1, 1)) for n in range(count)]
    return (values if shape == "rising" else values[::-1]), shape


def humanise(rng: random.Random, notes: Sequence[Note], most: int) -> list[Note]:
    """Move each chord or note by up to ``most`` ticks, as fingers do; ends move with it."""
    shifts: dict[int, int] = {}
    result = []
    for note in notes:
        if note.start not in shifts:
            shifts[note.start] = rng.randint(-most, most)
        # the fingers of one chord spread a little, too
        by = max(shifts[note.start] + rng.randint(-most // 3, most // 3), -note.start)
        result.append(replace(note, start=note.start + by, end=note.end + by))
    return without_clashes(result)


def without_clashes(notes: Sequence[Note]) -> list[Note]:
    """End a note where the next one of its pitch starts."""
    last: dict[int, int] = {}
    result: list[Note | None] = []
    for note in sorted(notes, key=lambda n: (n.start, n.pitch)):
        row = last.get(note.pitch)
        before = result[row] if row is not None else None
        if row is not None and before is not None and before.end > note.start:
            result[row] = replace(before, end=note.start) if note.start > before.start else None
        last[note.pitch] = len(result)
        result.append(note)
    return [n for n in result if n is not None]
