"""Rolls that go wrong, put into clean beats."""

from __future__ import annotations

import random
from dataclasses import replace

from bench.beat_bass import chord_at, low
from bench.beat_model import Beat, Note
from bench.beat_parts import SNARE
from bench.fault_model import (
    Fault,
    Want,
    bass_of,
    plain_notes,
)


def _roll(beat: Beat, rng: random.Random) -> list[Note] | None:
    fills = [f for f in beat.truth.fills if f.role == "bass" and f.hits >= 6]
    if not fills:
        return None
    fill = rng.choice(fills)
    return [n for n in bass_of(beat).notes if fill.start <= n.start <= fill.end]


def _reroll(beat: Beat, hits: list[Note], new: list[Note]) -> Beat:
    bass = bass_of(beat)
    kept = [n for n in bass.notes if not any(n is h for h in hits)]
    return beat.with_track(replace(bass, notes=tuple(sorted((*kept, *new), key=lambda n: n.start))))


def fill_off_phrase(beat: Beat, rng: random.Random) -> Fault | None:
    """A roll three bars early: it ends one bar into four, where nothing ends."""
    hits = _roll(beat, rng)
    if hits is None or len(beat.truth.phrases) < 2:
        return None
    by = 3 * beat.bar
    start, end = hits[0].start - by, hits[-1].end - by
    bass = bass_of(beat)
    sounding = [n for n in bass.notes if n.end > start and n.start < end]
    if start < 0 or not sounding or any(n not in plain_notes(beat) for n in sounding):
        return None
    if any(
        s.start > hits[0].start - beat.bar and s.start < hits[0].start for s in beat.truth.slides
    ):
        return None
    chord = chord_at(beat.truth.chords, start)
    if any(start < c.start < end for c in beat.truth.chords):
        return None
    # the bar that has lost its roll goes on as it began
    base = 60 if hits[0].pitch >= 60 else hits[0].pitch // 12 * 12
    pitch = low(beat.truth.tonic if beat.truth.pattern == "root-pedal" else chord.root)
    while pitch < base:
        pitch += 12
    moved = [replace(h, start=h.start - by, end=h.end - by, pitch=pitch) for h in hits]
    kept = [
        replace(n, end=min(n.end, start)) if n in sounding else n
        for n in bass.notes
        if not any(n is h for h in hits) and not (start <= n.start < end)
    ]
    notes = tuple(sorted((*kept, *moved), key=lambda n: n.start))
    faulty = beat.with_track(replace(bass, notes=notes))
    line = round(hits[-1].end / beat.bar) * beat.bar
    shape = tuple(line - h.start for h in hits)
    ends = tuple(bar * beat.bar for _, bar, _ in beat.truth.phrases)
    want = Want("bass", hits[0].start, beat.division // 8, None, ends_at=ends, hits=shape)
    return Fault("fill-off-phrase", faulty, start, end, frozenset({"roll-blurs"}), want=want)


def flat_roll(beat: Beat, rng: random.Random) -> Fault | None:
    """All hits of a fast roll with one velocity."""
    hits = _roll(beat, rng)
    if hits is None:
        return None
    faulty = _reroll(beat, hits, [replace(h, velocity=100) for h in hits])
    return Fault("flat-roll", faulty, hits[0].start, hits[-1].end)


def roll_blurs(beat: Beat, rng: random.Random) -> Fault | None:
    """A roll too low for its speed: under two and a half periods a hit."""
    hits = _roll(beat, rng)
    if hits is None:
        return None
    seconds = (hits[1].start - hits[0].start) * 60 / beat.bpm / beat.division
    pitch = hits[0].pitch
    while 440 * 2 ** ((pitch - 69) / 12) * seconds >= 2.5:
        pitch -= 12
    if pitch < 24:
        return None
    faulty = _reroll(beat, hits, [replace(h, pitch=pitch) for h in hits])
    want = Want("bass", hits[0].start, 0, pitch % 12)
    return Fault("roll-blurs", faulty, hits[0].start, hits[-1].end, want=want)


def roll_misses_snare(beat: Beat, rng: random.Random) -> Fault | None:
    """A snare doubles the roll, and the bass comes 18 ms behind it."""
    hits = _roll(beat, rng)
    if hits is None:
        return None
    step = hits[1].start - hits[0].start
    late = beat.ms(18)
    if late * 2 >= step or late > step - (hits[0].end - hits[0].start) + step // 8 + late:
        return None
    drums = beat.track("drums")
    start, end = hits[0].start, hits[-1].end
    busy = [n for n in drums.notes if n.pitch != SNARE or not start <= n.start < end]
    doubled = [Note(h.start, h.start + step // 2, SNARE, h.velocity) for h in hits]
    both = beat.with_track(
        replace(drums, notes=tuple(sorted((*busy, *doubled), key=lambda n: n.start)))
    )
    length = hits[0].end - hits[0].start
    new = [
        replace(h, start=h.start + late, end=min(h.start + late + length, hits[-1].end))
        for h in hits
    ]
    faulty = _reroll(both, hits, new)
    want = Want("bass", hits[0].start, 2, None)
    explains = frozenset({"kick-flam"})
    return Fault("roll-misses-snare", faulty, start, end, explains, want=want)


def roll_off_grid(beat: Beat, rng: random.Random) -> Fault | None:
    """One hit in the middle of a roll stumbles by more than a third of a step, and by 16 ms."""
    hits = _roll(beat, rng)
    if hits is None:
        return None
    step = hits[1].start - hits[0].start
    row = rng.randrange(2, len(hits) - 2)
    # in a faster roll 16 ms are half a step, another rhythm; and what falls on another grid of the
    # file (within 4 ms) was put there on purpose
    grids = [beat.division / n for n in (24, 32)]
    ways = [
        by
        for by in range(beat.ms(16) + 1, round(step * 0.45))
        if all(_from_grid(hits[row].start + by, grid) > beat.ms(4) for grid in grids)
    ]
    if not ways:
        return None
    by = rng.choice(ways)
    new = [
        replace(h, start=h.start + by, end=max(h.end, h.start + by + 2)) if n == row else h
        for n, h in enumerate(hits)
    ]
    faulty = _reroll(beat, hits, new)
    want = Want("bass", hits[row].start, 2, None)
    explains = frozenset({"roll-misses-snare"})  # where a drum roll doubles it
    return Fault("roll-off-grid", faulty, hits[0].start, hits[-1].end, explains, want=want)


def _from_grid(tick: int, grid: float) -> float:
    """Ticks to the nearest line of a grid."""
    return abs(tick - round(tick / grid) * grid)


def roll_slides_by_accident(beat: Beat, rng: random.Random) -> Fault | None:
    """On a part that glides, the hits of a roll lap over each other."""
    hits = _roll(beat, rng)
    if hits is None or not any(s.how == "overlap" for s in beat.truth.slides):
        return None
    step = hits[1].start - hits[0].start
    # two pitches in turn: equal ones that lap over would be doubled notes
    new = [
        replace(
            h,
            pitch=h.pitch + 12 * (n % 2),
            end=h.start + step + step // 4 if n < len(hits) - 1 else h.end,
        )
        for n, h in enumerate(hits)
    ]
    faulty = _reroll(beat, hits, new)
    explains = frozenset({"accidental-slide", "slide-never-lands", "slide-after-decay"})
    return Fault("roll-slides-by-accident", faulty, hits[0].start, hits[-1].end, explains)
