"""Beats made up by dice and handbook: half-time drums, a long pitched sub, loops of chords.

Deterministic by seed; every beat carries its truth. ``python tests/bench/beats.py FOLDER [COUNT]``
writes some to listen to. No rule and no hearing of the package under test is used here.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.beat_bass import ENCODINGS, GRIDS, PATTERNS, BassLine, Plan, bass_line
from bench.beat_harmony import LOOPS, STEPS_OF_ROOTS, Harmony, Key, choose_key, chords_of
from bench.beat_model import STEPS, Beat, Chord, Control, Fill, Note, Slide, Track, Truth, write
from bench.beat_parts import (
    CELLS,
    arpeggio,
    drum_roll,
    drums,
    humanise,
    keys,
    melody,
    pad,
    without_clashes,
)

_BASS_NAMES = ("Sub", "Bass", "Sub Bass", "Low End", "808", "Track 5", "")
_HARMONY_NAMES = {
    "pad": ("Pad", "Strings", "Choir"),
    "keys": ("Keys", "Piano", "Chords"),
    "arp": ("Arp", "Pluck", "Bells"),
}
_PROGRAMS = {"pad": 89, "keys": 4, "arp": 45}


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of bars with its layers; ``loop`` names the chords."""

    label: str
    start: int
    bars: int
    loop: tuple[tuple[Harmony, int], ...]  # chord, sixteenths
    layers: frozenset[str]


def make_beat(seed: int) -> Beat:
    """The beat of a seed."""
    rng = random.Random(seed)
    key = choose_key(rng)
    bpm = float(rng.randint(120, 160)) if rng.random() < 0.8 else round(rng.uniform(120, 160), 2)
    division = rng.choice((96, 480, 480, 960))
    step = division // 4
    pattern = rng.choice(PATTERNS)
    total = rng.choice((4, 8, 8, 16, 16, 24, 32, 32, 48, 64))
    if pattern == "stepwise":
        total = max(total, 8)
    sections = _sections(rng, key, pattern, total)
    total = sections[-1].start + sections[-1].bars
    chords = _chords(sections, step)
    scale = key.scale | {pc for c in chords for pc in c.pcs}
    length = 8 if pattern == "stepwise" else rng.choice((4, 4, 8))
    phrases = _phrases(sections, length)
    cells = _cells(rng, sections)
    ends = [end for _, end, _ in phrases]
    bars = [b for s in sections if "bass" in s.layers for b in range(s.start, s.start + s.bars)]
    plan = Plan(
        chords=chords,
        bars=bars,
        cells=cells,
        phrase_ends=ends,
        tonic=key.tonic,
        scale=scale,
        pattern=pattern,
        encoding=rng.choice(ENCODINGS),
        bend_range=rng.choice((12, 12, 24)),
        division=division,
        bpm=bpm,
    )
    line = bass_line(rng, plan)
    tracks, fills = _tracks(rng, sections, chords, scale, cells, ends, plan, line)
    truth = Truth(
        tonic=key.tonic,
        mode=key.mode,
        scale=scale,
        chords=tuple(chords),
        phrases=phrases,
        fills=tuple(sorted(fills, key=lambda f: f.start)),
        slides=tuple(line.slides),
        pattern=pattern,
        decay_s=round(rng.uniform(2.8, 4.5), 2),
    )
    markers = tuple((s.start, s.label) for s in sections) if rng.random() < 0.4 else ()
    merged = rng.random() < 0.1 and len({t.channel for t in tracks}) == len(tracks)
    return write(
        Beat(seed, division, bpm, total, tracks, truth, markers, file_format=0 if merged else 1)
    )


def _sections(rng: random.Random, key: Key, pattern: str, total: int) -> list[Section]:
    colour = rng.choice(("triads", "triads", "sevenths", "ninths"))
    main, other = _loop(rng, key, pattern, colour), _loop(rng, key, pattern, colour)
    base = {rng.choice(("pad", "keys", "keys"))}
    if rng.random() < 0.4:
        base.add(rng.choice(("pad", "arp")))
    full = frozenset(base | {"drums", "bass"})
    result: list[Section] = []
    at = 0
    if total >= 12 and rng.random() < 0.7:
        intro = rng.choice((2, 4, 4, 8))
        layers = frozenset(base | ({"hats"} if rng.random() < 0.3 else set()))
        result.append(Section("Intro", 0, intro, main, layers))
        at, total = intro, total + intro
    hook = False
    while at < total:
        left = total - at
        bars = left if left < 12 else rng.choice((8, 8, 16) if left >= 16 else (8,))
        layers = full | {"melody"} if hook or (left == total and rng.random() < 0.5) else full
        loop = other if hook and rng.random() < 0.5 else main
        result.append(Section("Hook" if hook else "Verse", at, bars, loop, layers))
        at += bars
        hook = not hook
    return result


def _loop(
    rng: random.Random, key: Key, pattern: str, colour: str
) -> tuple[tuple[Harmony, int], ...]:
    """Chords with their lengths in sixteenths; a loop lasts 4 or 8 bars."""
    if pattern == "stepwise":
        chords = chords_of(rng.choice(STEPS_OF_ROOTS[key.mode]), key, colour)
        return tuple(zip(chords, (4 * STEPS, 2 * STEPS, 2 * STEPS), strict=True))
    loops = LOOPS[key.mode]
    if pattern == "root-pedal":  # a pedal on the tonic stands where the tonic chord is heard
        loops = tuple(loop for loop in loops if {"i", "I"} & set(loop.split()))
    chords = chords_of(rng.choice(loops), key, colour)
    if len(chords) == 2:
        length = rng.choice((2 * STEPS, 2 * STEPS, STEPS))
    else:
        length = rng.choice((STEPS, STEPS, STEPS, 2 * STEPS, STEPS // 2))
    return tuple((chord, length) for chord in chords)


def _chords(sections: Sequence[Section], step: int) -> list[Chord]:
    result: list[Chord] = []
    for section in sections:
        at, end = section.start * STEPS * step, (section.start + section.bars) * STEPS * step
        n = 0
        while at < end:
            chord, length = section.loop[n % len(section.loop)]
            until = min(at + length * step, end)
            result.append(Chord(at, until, chord.root, chord.quality, chord.pcs))
            at, n = until, n + 1
    return result


def _phrases(sections: Sequence[Section], length: int) -> tuple[tuple[int, int, str], ...]:
    result = []
    for section in sections:
        end = section.start + section.bars
        result += [
            (bar, min(bar + length, end), section.label)
            for bar in range(section.start, end, length)
        ]
    return tuple(result)


def _cells(rng: random.Random, sections: Sequence[Section]) -> dict[int, tuple[int, ...]]:
    """The rhythm of kick and bass in each bar: one or two cells take turns in a section."""
    result: dict[int, tuple[int, ...]] = {}
    for section in sections:
        turn = [rng.choice(CELLS) for _ in range(rng.choice((1, 2, 2)))]
        for n in range(section.bars):
            result[section.start + n] = turn[n % len(turn)]
    return result


def _tracks(
    rng: random.Random,
    sections: Sequence[Section],
    chords: Sequence[Chord],
    scale: frozenset[int],
    cells: dict[int, tuple[int, ...]],
    ends: Sequence[int],
    plan: Plan,
    line: BassLine,
) -> tuple[tuple[Track, ...], list[Fill]]:
    feel = rng.choice((0, 0, 4, 8))
    most = round(feel * plan.bpm * plan.division / 60_000)
    one_channel = rng.random() < 0.3
    tracks: list[Track] = []
    makers: dict[str, Callable[[list[Chord]], list[Note]]] = {
        "pad": lambda c: pad(rng, c, 52),
        "keys": lambda c: keys(rng, c, 55, plan.step),
        "arp": lambda c: arpeggio(rng, c, 60, plan.step),
    }

    def add(name: str, role: str, program: int | None, notes: Sequence[Note]) -> None:
        if notes:
            channel = 1 if one_channel else len(tracks) + 1
            tracks.append(Track(name, role, channel, program, tuple(notes)))

    for layer, make in makers.items():
        notes = [n for s in sections if layer in s.layers for n in make(_within(chords, s, plan))]
        name = rng.choice(_HARMONY_NAMES[layer])
        add(name, "harmony", _PROGRAMS[layer], humanise(rng, notes, most))
    tune = [
        n
        for s in sections
        if "melody" in s.layers
        for n in melody(rng, _within(chords, s, plan), scale, plan.step)
    ]
    add(rng.choice(("Lead", "Bell Lead", "Flute")), "melody", 80, humanise(rng, tune, most))
    beat_bars = [
        b for s in sections if "drums" in s.layers for b in range(s.start, s.start + s.bars)
    ]
    hits = drums(rng, beat_bars, cells, plan.step)
    fills = list(line.fills)
    for end_bar in ends:
        if end_bar - 1 in beat_bars and rng.random() < 0.25:
            hits, fill = _with_roll(rng, plan, hits, end_bar)
            fills.append(fill)
    drum_track = Track("Drums", "drums", 10, None, tuple(without_clashes(hits)))
    bass = Track(
        rng.choice(_BASS_NAMES),
        "bass",
        1 if one_channel else len(tracks) + 1,
        rng.choice((None, None, 38, 87)),
        tuple(line.notes),
        tuple(line.controls),
    )
    groove = _groove(rng, most // 2, [(f.start, f.end) for f in fills])
    line.slides = [_grooved_slide(s, groove) for s in line.slides]
    tracks += [_grooved(drum_track, groove), _grooved(bass, groove)]
    rng.shuffle(tracks)
    return tuple(tracks), fills


def _within(chords: Sequence[Chord], section: Section, plan: Plan) -> list[Chord]:
    start = section.start * STEPS * plan.step
    end = start + section.bars * STEPS * plan.step
    return [c for c in chords if start <= c.start < end]


def _with_roll(
    rng: random.Random, plan: Plan, hits: Sequence[Note], end_bar: int
) -> tuple[list[Note], Fill]:
    """Hats or snare roll into the phrase end, in the place of their plain hits."""
    end = end_bar * STEPS * plan.step
    start = end - rng.choice((1, 2)) * plan.division
    grid = rng.choice(tuple(GRIDS))
    roll, fill = drum_roll(
        rng, start, end, plan.division // GRIDS[grid], grid, hats=rng.random() < 0.6
    )
    kept = [n for n in hits if not (n.pitch == roll[0].pitch and start <= n.start < end)]
    return [*kept, *roll], fill


def _groove(
    rng: random.Random, most: int, still: Sequence[tuple[int, int]]
) -> Callable[[int], int]:
    """Bass and drums lean together, place by place; rolls stand still."""
    seed = rng.random()

    def at(tick: int) -> int:
        if tick == 0 or any(a <= tick <= b for a, b in still):
            return tick
        return tick + random.Random(f"{seed} {tick}").randint(-most, most)

    return at


def _grooved(track: Track, at: Callable[[int], int]) -> Track:
    notes = tuple(
        replace(n, start=at(n.start), end=max(at(n.end), at(n.start) + 1)) for n in track.notes
    )
    controls = tuple(Control(at(c.tick), c.number, c.value) for c in track.controls)
    return replace(track, notes=notes, controls=controls)


def _grooved_slide(slide: Slide, at: Callable[[int], int]) -> Slide:
    if slide.how == "bend":
        return replace(slide, start=at(slide.start), land=at(slide.land or 0))
    by = at(slide.start) - slide.start
    return replace(slide, start=slide.start + by, land=(slide.land or 0) + by)


def main() -> None:
    """Write beats to a folder."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(int(sys.argv[2]) if len(sys.argv) > 2 else 10):
        beat = make_beat(seed)
        (folder / f"beat-{seed:03d}.mid").write_bytes(beat.data)
        t = beat.truth
        print(f"{seed:3d}: {beat.bars} bars, {beat.bpm} bpm, {t.tonic} {t.mode}, {t.pattern}")


if __name__ == "__main__":
    main()
