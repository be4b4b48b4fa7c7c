"""Songs with known rolls: a groove, decoys that are no fills, and rolls with their places.

The same number gives the same songs. Grids are arithmetic: a sixteenth is a quarter of a quarter
note, a triplet packs three steps into the time of two. What a groove is, is common practice, no
source.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import mido
import numpy as np

from basslint.hear.fills.fills import Fills

DIVISION = 960
GRIDS = {
    "1/16": 1 / 4,
    "1/16 triplet": 1 / 6,
    "1/32": 1 / 8,
    "1/32 triplet": 1 / 12,
    "1/64": 1 / 16,
    "1/64 triplet": 1 / 24,
    "1/128": 1 / 32,
}
BASS, DRUMS = 0, 1  # parts of the songs, in this order
KICK, SNARE, CLAP, HAT = 36, 38, 39, 42  # General MIDI 1 percussion map
TOMS = (50, 48, 47, 45, 43, 41)


@dataclass(frozen=True, slots=True)
class Roll:
    """A roll as it was written: times in quarter notes, ``end`` where the next hit would fall."""

    part: int
    start: float
    end: float
    hits: int
    grid: str


@dataclass(frozen=True, slots=True)
class KnownSong:
    data: bytes
    rolls: tuple[Roll, ...]
    bars: int
    tempo: int
    jitter_ms: float


@dataclass(slots=True)
class Score:
    """Counts over songs; rates from them."""

    rolls: int = 0
    found: int = 0
    grid_right: int = 0
    hits_right: int = 0
    false: int = 0
    bars: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, known: KnownSong, fills: Fills) -> None:
        """Count one song. A roll is found by a fill of its part that shares half of their union."""
        free = set(range(len(fills)))
        self.bars += known.bars
        for roll in known.rolls:
            self.rolls += 1
            shared = {i: _shared(roll, fills, i) for i in free if fills.part[i] == roll.part}
            best = max(shared, key=lambda i: shared[i], default=-1)
            if best < 0 or shared[best] < 0.5:
                self.wrong.append(f"missed {roll} at {known.tempo} bpm ± {known.jitter_ms:.1f} ms")
                continue
            free.remove(best)
            self.found += 1
            self.hits_right += int(fills.hits[best] == roll.hits)
            self.grid_right += fills.grid[best] == roll.grid
            if fills.grid[best] != roll.grid:
                self.wrong.append(f"{roll} heard as {fills.grid[best]} at {known.tempo} bpm")
        self.false += len(free)
        self.wrong += [f"no roll at {fills.start[i] / DIVISION}, {known.tempo} bpm" for i in free]


def _shared(roll: Roll, fills: Fills, row: int) -> float:
    start, end = fills.start[row] / DIVISION, fills.end[row] / DIVISION
    inside = min(end, roll.end) - max(start, roll.start)
    return float(inside / (max(end, roll.end) - min(start, roll.start)))


@dataclass(slots=True)
class _Note:
    at: float
    length: float
    pitch: int
    velocity: float


def song(seed: int, tempo: int | None = None, jitter_ms: float | None = None) -> KnownSong:
    """One song of 48 bars in 4/4 with a roll at the end of most units of four or eight bars."""
    rng = np.random.default_rng(seed)
    tempo = int(rng.integers(60, 181)) if tempo is None else tempo
    jitter_ms = float(rng.uniform(0, 8)) if jitter_ms is None else jitter_ms
    bars = 48
    groove = str(rng.choice(["long", "eighths", "sixteenths", "dotted", "bursts", "sections"]))
    bass = _bass(rng, groove, bars)
    drums = _drums(rng, bars)
    rolls: list[Roll] = []
    unit = int(rng.choice([4, 8]))
    for bar in range(unit - 1, bars, unit):
        if rng.random() < 0.85:
            where = bar if rng.random() < 0.9 else bar - int(rng.integers(1, 3))
            rolls += _roll(rng, groove, where, bass, drums)
    return KnownSong(
        _bytes(rng, tempo, jitter_ms, bass, drums), tuple(rolls), bars, tempo, jitter_ms
    )


def _bass(rng: np.random.Generator, groove: str, bars: int) -> list[_Note]:
    notes: list[_Note] = []
    for bar in range(bars):
        root = _root(bar)
        if groove == "long":
            places = [0.0, 2.5] if bar % 2 else [0.0]
        elif groove == "dotted":
            places = [0.0, 0.75, 1.5, 2.0, 2.75, 3.5]
        elif groove == "sixteenths" or (groove == "sections" and bar // 8 % 2):
            places = [i / 4 for i in range(16)]
        elif groove == "bursts":  # a riff: the same four sixteenths in every bar
            places = [0.0, 1.0, 2.0, 2.25, 2.5, 2.75, 3.0]
        else:
            places = [i / 2 for i in range(8)]
        ends = [*places[1:], 4.0]
        notes += [
            _Note(4 * bar + at, (end - at) * 0.9, root, 100.0 + rng.uniform(-6, 6))
            for at, end in zip(places, ends, strict=True)
        ]
        if groove in ("long", "eighths") and rng.random() < 0.1:  # a pickup of two is no roll
            at = 4 * bar + 3.75
            _clear(notes, at, at + 0.25)
            notes.append(_Note(at, 0.2, root, 90.0))
    return notes


def _root(bar: int) -> int:
    return 33 + (0, -4, 3, -2)[bar // 2 % 4]


def _drums(rng: np.random.Generator, bars: int) -> list[_Note]:
    notes: list[_Note] = []
    hats = float(rng.choice([0.5, 0.25]))
    ghosts = rng.random() < 0.5
    for bar in range(bars):
        base = 4.0 * bar
        notes += [_Note(base + k, 0.2, KICK, 110) for k in (0.0, 1.75, 2.5)]
        notes += [_Note(base + k, 0.2, SNARE, 112) for k in (1.0, 3.0)]
        notes += [_Note(base + i * hats, 0.1, HAT, 80) for i in range(int(4 / hats))]
        if ghosts:
            notes += [_Note(base + k, 0.1, SNARE, 45) for k in (0.75, 2.25)]
        if rng.random() < 0.3:  # rolled hats keep time, wherever they are
            at = base + float(rng.integers(0, 4))
            notes += [_Note(at + i / 8, 0.05, HAT, 70 + 4 * i) for i in range(8)]
        if rng.random() < 0.1:  # a drag before the backbeat
            notes += [_Note(base + 1 - d, 0.03, SNARE, 60) for d in (0.04, 0.08)]
    return notes


def _clear(notes: list[_Note], begin: float, end: float, pitches: tuple[int, ...] = ()) -> None:
    """Take out what starts in a stretch and cut short what sounds into it."""
    for note in list(notes):
        if pitches and note.pitch not in pitches:
            continue
        if begin - 1e-6 <= note.at < end - 1e-6:
            notes.remove(note)
        elif note.at < begin < note.at + note.length:
            note.length = begin - note.at


def _roll(
    rng: np.random.Generator, groove: str, bar: int, bass: list[_Note], drums: list[_Note]
) -> list[Roll]:
    on_bass, on_drums = [(True, False), (False, True), (True, True)][int(rng.integers(0, 3))]
    busy = on_bass and groove in ("sixteenths", "sections", "bursts")
    names = [n for n in GRIDS if not (busy and n == "1/16")]
    places, name, start, end = _places(rng, names, 4.0 * bar)
    made: list[Roll] = []
    ramp = _ramp(rng, len(places))
    step = float(np.median(np.diff(places)))
    if on_bass:
        pitch = _root(bar) + 12
        move = str(rng.choice(["steady", "octave", "up"]))
        _clear(bass, start, end)
        for i, at in enumerate(places):
            shift = {"steady": 0, "octave": 12 * (i % 2), "up": min(i, 12)}[move]
            bass.append(_Note(float(at), step * 0.9, pitch + shift, ramp[i]))
        made.append(Roll(BASS, start, end, len(places), name))
    if on_drums:
        kind = str(rng.choice(["snare", "snare and clap", "toms"]))
        _clear(drums, start, end, (SNARE, CLAP, *TOMS))
        for i, at in enumerate(places):
            pitch = TOMS[i * len(TOMS) // len(places)] if kind == "toms" else SNARE
            drums.append(_Note(float(at), step * 0.5, pitch, ramp[i]))
            if kind == "snare and clap":
                drums.append(_Note(float(at), step * 0.5, CLAP, ramp[i]))
        made.append(Roll(DRUMS, start, end, len(places), name))
    if rng.random() < 0.15:  # air: nothing lands on the downbeat
        _clear(bass if on_bass else drums, end, end + 0.5, () if on_bass else (SNARE, *TOMS))
    return made


def _places(
    rng: np.random.Generator, names: list[str], bar_start: float
) -> tuple[np.ndarray, str, float, float]:
    """Where the hits of one roll fall: it ends at the bar line, or half a beat before it."""
    end = bar_start + 4 - (0.5 if rng.random() < 0.1 else 0.0)
    if rng.random() < 0.12:  # a mix: a slower beat, then a beat twice as fast
        slow = str(rng.choice([n for n in names if GRIDS[n] / 2 >= 1 / 32]))
        step = GRIDS[slow]
        start = end - 2.0
        first = np.arange(start, start + 1 - 1e-9, step)
        second = np.arange(start + 1, end - 1e-9, step / 2)
        return np.concatenate((first, second)), "mixed", start, end
    name = str(rng.choice(names))
    step = GRIDS[name]
    spans = [s for s in (0.5, 1.0, 1.5, 2.0, 4.0) if 4 <= round(s / step) <= 64]
    span = float(rng.choice(spans))
    start = end - span
    return start + step * np.arange(round(span / step)), name, start, end


def _ramp(rng: np.random.Generator, hits: int) -> np.ndarray:
    low, high = 60.0, 115.0
    shapes = {
        "rising": np.linspace(low, high, hits),
        "falling": np.linspace(high, low, hits),
        "flat": np.full(hits, 100.0),
        "free": rng.uniform(low, high, hits),
    }
    return shapes[str(rng.choice(list(shapes)))]


def _bytes(
    rng: np.random.Generator, tempo: int, jitter_ms: float, bass: list[_Note], drums: list[_Note]
) -> bytes:
    """Write the song with mido, every hit up to ``jitter_ms`` early or late."""
    quarter_ms = 60_000 / tempo
    out = mido.MidiFile(ticks_per_beat=DIVISION)
    head = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo), time=0)])
    out.tracks.append(head)
    for name, channel, notes in (("Sub", 0, bass), ("Drums", 9, drums)):
        events: list[tuple[int, int, mido.Message]] = []
        for note in notes:
            off = rng.uniform(-jitter_ms, jitter_ms) / quarter_ms
            begin = max(0, round((note.at + off) * DIVISION))
            end = max(begin + 1, round((note.at + off + note.length) * DIVISION))
            velocity = int(np.clip(round(note.velocity), 1, 127))
            one = {"channel": channel, "note": note.pitch}
            events.append((begin, 1, mido.Message("note_on", velocity=velocity, **one)))
            events.append((end, 0, mido.Message("note_off", velocity=0, **one)))
        events.sort(key=lambda e: e[:2])
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name, time=0)])
        before = 0
        for tick, _, message in events:
            track.append(message.copy(time=tick - before))
            before = tick
        out.tracks.append(track)
    stream = io.BytesIO()
    out.save(file=stream)
    return stream.getvalue()
