"""Faults put into real songs where the notes alone show that they are wrong.

A place is a bass note of nearly a quarter or more whose pitch class other parts sound for half of
its length, in a harmony of three pitch classes or more, with a semitone beside it that nobody
sounds there and that is not among the song's seven commonest. Kinds, as `KINDS` lists them:

- ``one``: such a note, moved by that semitone;
- ``copies``: every note of its pitch class under the same harmony, four or more;
- ``whole``: the whole bass a semitone up;
- ``late``: the whole bass 60 ms late, where sixteen kicks or more show it;
- ``stretch``: eight bars of the bass a semitone up, in songs of 24 bars or more;
- ``early``: the whole bass one beat ahead, in songs whose bass has such places.

``read`` takes a mido file, ``put_in`` gives a copy with the fault and the ticks that are off.
"""

from __future__ import annotations

import random
import re
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import mido

KINDS = ("one", "copies", "whole", "late", "stretch", "early")

DRUMS = 9  # channel 10 (General MIDI)
KICKS = (35, 36)
BASSES = range(32, 40)  # programs (General MIDI)
NAMED = re.compile(r"bass|808|sub\b", re.I)
FEWEST_NOTES, HIGHEST_MEAN = 16, 55  # of a part that is taken as the bass
LONG = 0.9  # quarters: a place lasts about a beat
SOUNDS, HARMONY = 0.5, 0.3  # share of the note: its own pitch class, and those of the harmony
FEWEST_TONES, COMMON, FEWEST_COPIES, FEWEST_PLACES, FEWEST_KICKS = 3, 7, 4, 8, 16
LATE_S = 0.06
STRETCH, LEAST_BARS = 8, 24


@dataclass(frozen=True, slots=True)
class Note:
    """A note of a track: ticks, pitch, and the rows of its two events in the track."""

    start: int
    end: int
    pitch: int
    on: int
    off: int


@dataclass(frozen=True, slots=True)
class Place:
    """A bass note that may be moved, whereto (±1), and the pitch classes that sound with it."""

    note: Note
    way: int
    harmony: frozenset[int]


@dataclass(frozen=True, slots=True)
class Song:
    """A song with one labelled bass: its (track, channel), all its notes, and its places."""

    midi: mido.MidiFile
    bass: tuple[int, int]
    notes: tuple[Note, ...]
    places: tuple[Place, ...]
    kicks: int
    beats: Mapping[int, int]  # ticks of a beat, by the tick from which that holds


@dataclass(frozen=True, slots=True)
class Fault:
    """A song with a fault in it: ``ticks`` at which notes are off, in the copy."""

    kind: str
    midi: mido.MidiFile
    ticks: tuple[int, ...]


def read(midi: mido.MidiFile) -> Song | None:
    """The song; None where not exactly one part is labelled a bass, by program or by name."""
    parts = _parts(midi)
    labelled = [
        key
        for key, (named, notes) in parts.items()
        if named
        and len(notes) >= FEWEST_NOTES
        and sum(n.pitch for n in notes) / len(notes) < HIGHEST_MEAN
    ]
    if len(labelled) != 1:
        return None
    bass = labelled[0]
    places = _places({key: notes for key, (_, notes) in parts.items()}, bass, midi.ticks_per_beat)
    kicks = sum(
        e.type == "note_on" and e.velocity > 0 and e.channel == DRUMS and e.note in KICKS
        for track in midi.tracks
        for e in track
    )
    return Song(midi, bass, tuple(parts[bass][1]), tuple(places), kicks, _beats(midi))


def put_in(
    kind: str,
    song: Song,
    rng: random.Random,
    free: Callable[[int], bool] = lambda tick: True,
    bpm: float = 120.0,
) -> Fault | None:
    """The song with a fault of a kind; None where there is no place for it.

    ``free`` says of a tick whether single notes may be moved there, such as where nothing was told
    before; ``bpm`` is the tempo by which milliseconds are counted.
    """
    open_to = [place for place in song.places if free(place.note.start)]
    if kind in ("one", "copies"):
        if not open_to:
            return None
        chosen = rng.choice(open_to)
        rows = [chosen]
        if kind == "copies":
            rows = _copies(chosen, open_to)
            if len(rows) < FEWEST_COPIES:
                return None
        return _moved(kind, song, {place.note: place.way for place in rows})
    if len(song.places) < FEWEST_PLACES:
        return None
    if kind == "whole":
        return _moved(kind, song, dict.fromkeys(song.notes, 1))
    if kind == "late":
        ticks = round(LATE_S * bpm / 60 * song.midi.ticks_per_beat)
        return _delayed(kind, song, ticks) if song.kicks >= FEWEST_KICKS else None
    if kind == "stretch":
        rows = _stretch(song, rng)
        return _moved(kind, song, dict.fromkeys(rows, 1)) if rows else None
    if kind == "early":
        tick = song.notes[0].start
        return _delayed(kind, song, -[n for at, n in song.beats.items() if at <= tick][-1])
    raise ValueError(f"no kind of fault is called {kind!r}")


def _parts(midi: mido.MidiFile) -> dict[tuple[int, int], tuple[bool, list[Note]]]:
    """Every part but drums by (track, channel): is it labelled a bass, and its notes in order."""
    parts: dict[tuple[int, int], list[Note]] = defaultdict(list)
    labels: dict[tuple[int, int], bool] = {}
    for number, track in enumerate(midi.tracks):
        program: dict[int, int] = {}
        name, now = "", 0
        sounding: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
        for row, event in enumerate(track):
            now += event.time
            if event.type == "track_name":
                name = event.name
            elif event.type == "program_change":
                program[event.channel] = event.program
            elif event.type in ("note_on", "note_off") and event.channel != DRUMS:
                key = (event.channel, event.note)
                if event.type == "note_on" and event.velocity:
                    sounding[key].append((now, row))
                elif sounding[key]:
                    start, on = sounding[key].pop(0)
                    parts[number, event.channel].append(Note(start, now, event.note, on, row))
        mine = [key for key in parts if key[0] == number]
        for key in mine:
            parts[key].sort(key=lambda n: (n.start, n.end, n.pitch))
            by_name = bool(NAMED.search(name)) and len(mine) == 1
            labels[key] = program.get(key[1], 0) in BASSES or by_name
    return {key: (labels[key], notes) for key, notes in parts.items()}


def _places(
    parts: Mapping[tuple[int, int], list[Note]], bass: tuple[int, int], division: int
) -> Iterable[Place]:
    time: Counter[int] = Counter()
    for notes in parts.values():
        for note in notes:
            time[note.pitch % 12] += note.end - note.start
    common = {tone for tone, _ in time.most_common(COMMON)}
    others = [n for key, notes in parts.items() if key != bass for n in notes]
    others.sort(key=lambda n: n.start)
    longest = max((n.end - n.start for n in others), default=0)
    starts = [n.start for n in others]
    for note in parts[bass]:
        length = note.end - note.start
        if length < LONG * division:
            continue
        sounds = _sounding(note, others, starts, longest)
        harmony = frozenset(t for t in sounds if sounds[t] > HARMONY * length)
        if sounds[note.pitch % 12] < SOUNDS * length or len(harmony) < FEWEST_TONES:
            continue
        for way in (1, -1):
            tone = (note.pitch + way) % 12
            if tone not in common and not sounds[tone]:
                yield Place(note, way, harmony)
                break


def _sounding(note: Note, others: list[Note], starts: list[int], longest: int) -> Counter[int]:
    """Ticks of a note during which the others sound each pitch class, voices counted apart."""
    sounds: Counter[int] = Counter()
    first, last = bisect_left(starts, note.start - longest), bisect_left(starts, note.end)
    for other in others[first:last]:
        if other.end > note.start:
            sounds[other.pitch % 12] += min(other.end, note.end) - max(other.start, note.start)
    return sounds


def _copies(chosen: Place, places: Iterable[Place]) -> list[Place]:
    """Places with the same pitch class and way, under the same harmony but for one tone."""
    return [
        place
        for place in places
        if place.note.pitch % 12 == chosen.note.pitch % 12
        and place.way == chosen.way
        and len(place.harmony ^ chosen.harmony) <= 1
    ]


def _stretch(song: Song, rng: random.Random) -> list[Note]:
    """The notes of eight bars of four quarters with a place in two bars of three; empty for none.

    Where the meter is another the stretch is as long, so that it may begin inside a bar.
    """
    bar = 4 * song.midi.ticks_per_beat
    last = max(note.end for note in song.notes)
    if last < LEAST_BARS * bar:
        return []
    fewest = STRETCH * 2 // 3
    held = Counter(place.note.start // bar for place in song.places)
    firsts = [
        first
        for first in range(0, last // bar - STRETCH + 1, STRETCH // 2)
        if sum(held[first + k] for k in range(STRETCH)) >= fewest
    ]
    if not firsts:
        return []
    first = rng.choice(firsts)
    return [n for n in song.notes if first * bar <= n.start < (first + STRETCH) * bar]


def _beats(midi: mido.MidiFile) -> dict[int, int]:
    """Ticks of a beat of the meter, by the tick from which it holds."""
    beats = {0: midi.ticks_per_beat}
    for track in midi.tracks:
        now = 0
        for event in track:
            now += event.time
            if event.type == "time_signature":
                beats[now] = midi.ticks_per_beat * 4 // event.denominator
    return dict(sorted(beats.items()))


def _moved(kind: str, song: Song, ways: Mapping[Note, int]) -> Fault:
    """The song with some notes moved by semitones."""
    copy = _copy(song)
    track = copy.tracks[song.bass[0]]
    for note, way in ways.items():
        track[note.on].note = track[note.off].note = note.pitch + way
    return Fault(kind, copy, tuple(sorted(note.start for note in ways)))


def _delayed(kind: str, song: Song, by: int) -> Fault:
    """The song with the whole bass ``by`` ticks later, without notes that would begin before 0.

    Programs, bends and controllers stay where they are.
    """
    copy = _copy(song)
    number, channel = song.bass
    lost = {row for n in song.notes if n.start + by < 0 for row in (n.on, n.off)}
    rows: list[tuple[int, int, mido.Message]] = []
    now = 0
    for row, event in enumerate(copy.tracks[number]):
        now += event.time
        plays = event.type in ("note_on", "note_off") and event.channel == channel
        if row not in lost:
            rows.append((max(now + by, 0) if plays else now, row, event))
    end = max(tick for tick, *_ in rows)
    rows = [(end if e.type == "end_of_track" else tick, row, e) for tick, row, e in rows]
    rows.sort(key=lambda r: (r[0], r[2].type == "end_of_track", r[1]))
    track, now = mido.MidiTrack(), 0
    for tick, _, event in rows:
        track.append(event.copy(time=tick - now))
        now = tick
    copy.tracks[number] = track
    left = (n.start + by for n in song.notes if n.start + by >= 0)
    return Fault(kind, copy, tuple(sorted(left)))


def _copy(song: Song) -> mido.MidiFile:
    """The file, its bass track copied event by event."""
    copy = mido.MidiFile(type=song.midi.type, ticks_per_beat=song.midi.ticks_per_beat)
    copy.tracks = [
        mido.MidiTrack(e.copy() for e in track) if number == song.bass[0] else track
        for number, track in enumerate(song.midi.tracks)
    ]
    return copy
