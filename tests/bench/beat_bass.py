"""Bass lines of generated beats: the usual patterns, slides in every encoding, rolls.

Patterns and places: common practice, no source. Pitch bends and RPN 0: MIDI 1.0 detailed
specification.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from bench.beat_model import STEPS, Chord, Control, Fill, Note, Slide
from bench.beat_parts import ramp

LOWEST = 28  # E1, 41 Hz
GLIDE_MS = 100
PATTERNS = ("root-pedal", "root-follow", "root-follow", "two-note", "octave", "stepwise")
ENCODINGS = ("overlap", "overlap", "bend", "portamento", "none")
# part of a quarter note
GRIDS = {"1/16 triplet": 6, "1/32": 8, "1/32 triplet": 12}


@dataclass(slots=True)
class BassLine:
    """A line as it grows."""

    notes: list[Note] = field(default_factory=list)
    controls: list[Control] = field(default_factory=list)
    slides: list[Slide] = field(default_factory=list)
    fills: list[Fill] = field(default_factory=list)
    rolls: list[tuple[int, int]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Plan:
    """What the line has to fit: the chords, bars with bass, kick cells, phrase ends (bars)."""

    chords: Sequence[Chord]
    bars: Sequence[int]
    cells: dict[int, tuple[int, ...]]
    phrase_ends: Sequence[int]
    tonic: int
    scale: frozenset[int]
    pattern: str
    encoding: str
    bend_range: int
    division: int
    bpm: float

    @property
    def step(self) -> int:
        return self.division // 4

    @property
    def glide(self) -> int:
        return round(GLIDE_MS * self.bpm * self.division / 60_000)


def low(pc: int) -> int:
    """The pitch of a class in the sub's octave."""
    return LOWEST + (pc - LOWEST) % 12


def bass_line(rng: random.Random, plan: Plan) -> BassLine:
    """A whole line."""
    line = BassLine()
    second = rng.choice((7, 7, -5, 3))
    for bar in plan.bars:
        _bar(rng, plan, line, bar, second)
    _approaches(rng, plan, line)
    _rolls(rng, plan, line)
    if plan.encoding != "none":
        _slides(rng, plan, line)
    line.notes.sort(key=lambda n: (n.start, n.pitch))
    line.controls.sort(key=lambda c: c.tick)
    return line


def _bar(rng: random.Random, plan: Plan, line: BassLine, bar: int, second: int) -> None:
    top, step = bar * STEPS * plan.step, plan.step
    end = top + STEPS * step
    changes = {c.start for c in plan.chords if top <= c.start < end}
    onsets = sorted({top + s * step for s in plan.cells[bar]} | changes | {top})
    for n, onset in enumerate(onsets):
        until = onsets[n + 1] if n + 1 < len(onsets) else end
        # air before the next bar, and now and then between notes
        gap = step if until == end else rng.choice((0, 0, 0, step // 2))
        chord = chord_at(plan.chords, onset)
        last = n == len(onsets) - 1 and n > 0 and onset not in changes
        pitch = _pitch(plan, chord, last, second)
        if plan.pattern in ("root-pedal", "root-follow") and last and rng.random() < 0.1:
            pitch += 12
        line.notes.append(Note(onset, until - gap, pitch, rng.randint(96, 115)))


def chord_at(chords: Sequence[Chord], tick: int) -> Chord:
    """The chord that sounds at a tick."""
    return next(c for c in reversed(chords) if c.start <= tick)


def _pitch(plan: Plan, chord: Chord, last: bool, second: int) -> int:
    if plan.pattern == "root-pedal":
        return low(plan.tonic)
    root = low(chord.root)
    if plan.pattern == "octave" and last:
        return root + 12
    if plan.pattern == "two-note" and last:
        if second == 3:
            third = next((i for i in (3, 4) if (chord.root + i) % 12 in chord.pcs), 12)
            return root + third
        perfect = (chord.root + 7) % 12 in chord.pcs
        return (
            (root + second if root + second >= LOWEST - 2 else root + 7) if perfect else root + 12
        )
    return root


def _approaches(rng: random.Random, plan: Plan, line: BassLine) -> None:
    """Short notes of an eighth that lead into a new root, by a step of the scale or a semitone."""
    if plan.pattern not in ("root-follow", "stepwise"):
        return
    result: list[Note] = []
    for note, following in zip(line.notes, [*line.notes[1:], None], strict=True):
        length = 2 * plan.step
        leads = (
            following is not None
            and abs(following.pitch - note.pitch) > 2
            and any(c.start == following.start for c in plan.chords)
            and following.start - note.start >= 3 * length
            and following.start - note.end <= plan.step
            and rng.random() < 0.15
        )
        if not leads or following is None:
            result.append(note)
            continue
        side = 1 if note.pitch > following.pitch else -1
        near = [side, 2 * side] if rng.random() < 0.5 else [2 * side, side]
        by = next((m for m in near if (following.pitch + m) % 12 in plan.scale), side)
        at = following.start - length
        result.append(replace(note, end=min(note.end, at)))
        result.append(Note(at, following.start, following.pitch + by, note.velocity - 10))
    line.notes = result


def _rolls(rng: random.Random, plan: Plan, line: BassLine) -> None:
    for end_bar in plan.phrase_ends:
        if end_bar - 1 not in plan.bars or rng.random() > 0.35:
            continue
        end = end_bar * STEPS * plan.step
        grid = rng.choice(tuple(GRIDS))
        ticks = plan.division // GRIDS[grid]
        start = end - rng.choice((1, 1, 2)) * plan.division
        chord = chord_at(plan.chords, start)
        if any(start < c.start < end for c in plan.chords):
            continue
        pitch = low(plan.tonic if plan.pattern == "root-pedal" else chord.root)
        seconds = 60 / plan.bpm / GRIDS[grid]
        while 440 * 2 ** ((pitch - 69) / 12) * seconds < 3.3:  # periods of the note in one hit
            pitch += 12
        if pitch > 55:
            continue
        onsets = list(range(start, end, ticks))
        velocities, shape = ramp(rng, len(onsets))
        before = [n for n in line.notes if n.start < start]
        after = [n for n in line.notes if n.start >= end]
        before = [replace(n, end=min(n.end, start)) for n in before]
        hits = [
            Note(o, o + ticks - ticks // 8, pitch, v)
            for o, v in zip(onsets, velocities, strict=True)
        ]
        line.notes = before + hits + after
        line.fills.append(Fill("bass", onsets[0], onsets[-1], len(onsets), grid, shape))
        line.rolls.append((start, end))


def _slides(rng: random.Random, plan: Plan, line: BassLine) -> None:
    """Turn some long notes into slides to a note of the chord, early in the note."""
    if plan.encoding == "bend":
        line.controls += [Control(0, n, v) for n, v in _range(plan.bend_range)]
    if plan.encoding == "portamento":
        line.controls.append(Control(0, 5, 40))
    result: list[Note] = []
    for note in line.notes:
        long = note.end - note.start >= 8 * plan.step
        rolled = any(a < note.end and note.start < b for a, b in line.rolls)
        if not long or rolled or rng.random() > 0.3:
            result.append(note)
            continue
        result += _slide(rng, plan, line, note)
    line.notes = result


def _range(semitones: int) -> list[tuple[int, int]]:
    """Bend range by RPN 0, in the order of the specification, closed by the null RPN."""
    return [(101, 0), (100, 0), (6, semitones), (38, 0), (101, 127), (100, 127)]


def _slide(rng: random.Random, plan: Plan, line: BassLine, note: Note) -> list[Note]:
    chord = chord_at(plan.chords, note.start)
    reach = 12 if plan.encoding != "bend" else plan.bend_range
    triad = chord.pcs[:3]  # a seventh in the bass would rub against the root above it
    ups = [i for i in (12, 12, 7, 3, 4, 5, 8, 9) if i <= reach and (note.pitch + i) % 12 in triad]
    downs = [-i for i in (5, 12) if (note.pitch - i) % 12 in triad and note.pitch - i >= LOWEST - 2]
    if not ups:
        return [note]
    by = rng.choice(ups + downs[:1])
    begin = note.start + rng.choice((2, 3, 4)) * plan.step
    target = note.pitch + by
    if plan.encoding == "bend":
        land = begin + rng.choice((1, 2)) * plan.step
        _ramp(plan, line, begin, land, by)
        line.controls.append(Control(note.end, -1, 0))
        line.slides.append(Slide("bend", begin, land, note.pitch, target))
        return [note]
    goal = Note(begin, note.end, target, note.velocity - rng.randint(0, 8))
    if plan.encoding == "overlap":
        overlap = max(plan.glide, plan.step)
        line.slides.append(Slide("overlap", begin, begin + plan.glide, note.pitch, target))
        return [replace(note, end=begin + overlap), goal]
    line.controls += [
        Control(begin, 65, 127),
        Control(begin, 84, note.pitch),
        Control(note.end, 65, 0),
    ]
    line.slides.append(Slide("portamento", begin, begin + plan.glide, note.pitch, target))
    return [replace(note, end=begin), goal]


def _ramp(plan: Plan, line: BassLine, begin: int, land: int, by: float) -> None:
    """A straight ramp in sixteen steps from the centre to ``by`` semitones."""
    count = 16
    for n in range(count + 1):
        value = round(by * n / count / plan.bend_range * 8192)
        tick = begin + (land - begin) * n // count
        line.controls.append(Control(tick, -1, max(-8192, min(8191, value))))
