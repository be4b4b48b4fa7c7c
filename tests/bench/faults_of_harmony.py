"""Wrong notes and late changes, put into clean beats."""

from __future__ import annotations

import random
from dataclasses import replace

from bench.beat_bass import low
from bench.beat_model import Beat, Chord, Note, Track, write
from bench.fault_model import (
    AT_A_WRONG_NOTE,
    Fault,
    Want,
    bass_of,
    chord_of,
    pick,
    place,
    plain_notes,
    swap,
)


def _chord_starts(beat: Beat, beats: float) -> list[tuple[Note, Chord]]:
    """Long plain notes that start with a chord on that chord's root, second chord and later."""
    near = beat.ms(12)
    changes = [
        c
        for before, c in zip(beat.truth.chords, beat.truth.chords[1:], strict=False)
        if before.root != c.root
    ]
    return [
        (n, c)
        for n in plain_notes(beat, beats)
        for c in changes
        if abs(n.start - c.start) <= near and n.pitch % 12 == c.root
    ]


def off_root(beat: Beat, rng: random.Random) -> Fault | None:
    """A long note under a change that is no chord tone and no pedal."""
    options = []
    chords = beat.truth.chords
    for note, chord in _chord_starts(beat, 1.5):
        at = chords.index(chord)
        known = {*chord.pcs, beat.truth.tonic, *(c.root for c in chords[max(at - 1, 0) : at + 2])}
        options += [
            (note, by)
            for by in (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5)
            if (note.pitch + by) % 12 not in known and note.pitch + by >= 26
        ]
    if not options:
        return None
    note, by = rng.choice(options)
    wrong = replace(note, pitch=note.pitch + by)
    want = Want("bass", note.start, 0, note.pitch % 12)
    return Fault("off-root", swap(beat, note, wrong), *place(note), AT_A_WRONG_NOTE, want=want)


def outside_scale(beat: Beat, rng: random.Random) -> Fault | None:
    """Where the harmony is silent for the song's last bars, a note outside the scale."""
    if beat.bars < 8:
        return None
    silent = (beat.bars - 4) * beat.bar
    inside = [n for n in plain_notes(beat, 1.0) if n.start >= silent + beat.division]
    options = [
        (n, by)
        for n in inside
        for by in (-1, 1, 6)
        if (n.pitch + by) % 12 not in beat.truth.scale and n.pitch + by >= 26
    ]
    if not options:
        return None
    note, by = rng.choice(options)
    tracks = [
        replace(t, notes=tuple(n for n in t.notes if n.start < silent - beat.ms(40)))  # early too
        if t.role == "harmony"
        else t
        for t in beat.tracks
    ]
    quiet = replace(beat, tracks=tuple(tracks))
    faulty = swap(quiet, note, replace(note, pitch=note.pitch + by))
    want = Want("bass", note.start, 0, note.pitch % 12)
    # where a loop tells the chord, off-root says so with the scale in its words
    same = frozenset({"off-root"})
    return Fault("outside-scale", faulty, *place(note), AT_A_WRONG_NOTE, want=want, as_good=same)


def rubs_with_harmony(beat: Beat, rng: random.Random) -> Fault | None:
    """A note a semitone above the root is held in the chords over a bass note."""
    options = [n for n in plain_notes(beat, 2.0) if n.pitch % 12 == chord_of(beat, n).root]
    note = pick(rng, options)
    if not isinstance(note, Note):
        return None
    part = beat.track("harmony")
    pitch = 60 + (note.pitch + 1 - 60) % 12
    held = Note(note.start, note.end, pitch, 90)
    faulty = beat.with_track(replace(part, notes=(*part.notes, held)))
    return Fault("rubs-with-harmony", faulty, *place(note), frozenset({"off-root"}))


def inverted_root(beat: Beat, rng: random.Random) -> Fault | None:
    """The chord's third or fifth under a change, and the root nowhere under the chord."""
    options = []
    for note, chord in _chord_starts(beat, 1.5):
        under = [n for n in bass_of(beat).notes if chord.start <= n.start + beat.ms(12) < chord.end]
        before = [n for n in bass_of(beat).notes if n.start < note.start]
        after = [n for n in bass_of(beat).notes if n.start > note.start]
        if len(under) == 1 and before and chord.root != beat.truth.tonic:
            third = next(p for p in range(note.pitch + 3, note.pitch + 5) if p % 12 in chord.pcs)
            # reached or left by step it would be a line of inversions, and no fault
            around = (before[-1], *after[:1])
            if all(abs(third - n.pitch) > 2 for n in around):
                options.append((note, third))
    if not options:
        return None
    note, third = rng.choice(options)
    want = Want("bass", note.start, 0, note.pitch % 12)
    faulty = swap(beat, note, replace(note, pitch=third))
    return Fault("inverted-root", faulty, *place(note), frozenset({"off-root"}), want=want)


def late_change(beat: Beat, rng: random.Random) -> Fault | None:
    """The old root is held a beat or more into the new chord."""
    notes = list(bass_of(beat).notes)
    options = []
    for note, chord in _chord_starts(beat, 1.75):
        row = notes.index(note)
        before = notes[row - 1] if row else None
        held = before in plain_notes(beat) if before else False
        if before and held and note.start - before.end <= beat.division:
            earlier = chord_of(beat, before)
            if (
                earlier.root == before.pitch % 12 != chord.root
                and before.pitch % 12 not in chord.pcs
            ):
                options.append((before, note))
    if not options:
        return None
    before, note = rng.choice(options)
    late = note.start + rng.choice((beat.division, beat.division * 5 // 4))
    notes[notes.index(before)] = replace(before, end=late)
    notes[notes.index(note)] = replace(note, start=late)
    faulty = beat.with_track(replace(bass_of(beat), notes=tuple(notes)))
    want = Want("bass", note.start, beat.division // 8, note.pitch % 12)
    explains = frozenset({"off-root", "rubs-with-harmony", "kick-flam", "outside-scale"})
    return Fault("late-change", faulty, before.start, note.end, explains, want=want)


def two_basses(beat: Beat, rng: random.Random) -> Fault | None:
    """A second sub that holds another chord tone under four bars."""
    notes = plain_notes(beat, 1.0)
    if len({t.channel for t in beat.tracks}) == 1 or len(notes) < 8:
        return None
    first = rng.randrange(len(notes) - 4)
    second = [
        replace(n, pitch=low((chord_of(beat, n).root + 7) % 12))
        for n in notes[first : first + 4]
        if chord_of(beat, n).root == n.pitch % 12
    ]
    # the rest of the second part is in unison, so that it is a bass and no passing colour
    rest = [n for n in notes if all(n.start != s.start for s in second)]
    if len(second) < 3:
        return None
    extra = Track(
        "Sub Two", "second", 12, None, tuple(sorted((*second, *rest), key=lambda n: n.start))
    )
    faulty = write(replace(beat, tracks=(*beat.tracks, extra)))
    # a fifth that is the root before, held on, is late as well
    explains = frozenset({"off-root", "inverted-root", "rubs-with-harmony", "late-change"})
    return Fault("two-basses", faulty, second[0].start, second[-1].end, explains)
