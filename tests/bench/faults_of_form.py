"""Faults of register, timing and file, put into clean beats."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

from bench.beat_model import Beat, Note, write
from bench.beat_parts import KICK
from bench.fault_model import (
    AT_A_WRONG_NOTE,
    Fault,
    Want,
    bass_of,
    pick,
    place,
    plain_notes,
    swap,
)

LOWEST = 23  # MIDI number: B0, 30.87 Hz; what lies lower is told as too low
FEWEST_BARS = 3  # others in which its part has the pitch, so that one octave is its own


def kick_flam(beat: Beat, rng: random.Random) -> Fault | None:
    """A bass note 12 to 30 ms behind the kick."""
    kicks = {n.start for n in beat.track("drums").notes if n.pitch == KICK}
    options = [n for n in plain_notes(beat, 0.5) if n.start in kicks]
    note = pick(rng, options)
    if not isinstance(note, Note):
        return None
    faulty = swap(beat, note, replace(note, start=note.start + beat.ms(rng.randint(12, 30))))
    return Fault("kick-flam", faulty, *place(note), want=Want("bass", note.start, 0, None))


def too_low(beat: Beat, rng: random.Random) -> Fault | None:
    """A root an octave down, under 30 Hz."""
    options = [n for n in plain_notes(beat, 0.5) if n.pitch - 12 <= 21]
    note = pick(rng, options)
    if not isinstance(note, Note):
        return None
    want = Want("bass", note.start, 0, note.pitch % 12)
    return Fault(
        "too-low", swap(beat, note, replace(note, pitch=note.pitch - 12)), *place(note), want=want
    )


def too_high(beat: Beat, rng: random.Random) -> Fault | None:
    """A root three octaves up, over 250 Hz."""
    options = [n for n in plain_notes(beat, 0.5) if n.pitch + 36 >= 64 or n.pitch + 36 >= 60]
    note = pick(rng, options)
    if not isinstance(note, Note):
        return None
    want = Want("bass", note.start, 0, note.pitch % 12)
    return Fault(
        "too-high", swap(beat, note, replace(note, pitch=note.pitch + 36)), *place(note), want=want
    )


def sound_off_pitch(beat: Beat, rng: random.Random) -> Fault | None:
    """A bass sound that is out of tune."""
    return Fault(
        "sound-off-pitch",
        beat,
        0,
        beat.bars * beat.bar,
        everywhere=True,
        cents=rng.choice((-25.0, 18.0)),
    )


def doubled_note(beat: Beat, rng: random.Random) -> Fault | None:
    """A bass note is there twice."""
    note = pick(rng, plain_notes(beat, 0.5))
    if not isinstance(note, Note):
        return None
    faulty = swap(beat, note, note, replace(note, velocity=note.velocity - 5))
    return Fault(
        "doubled-note", faulty, *place(note), want=Want("bass", note.start, 0, note.pitch % 12)
    )


def empty_note(beat: Beat, rng: random.Random) -> Fault | None:
    """A note of no length between two others."""
    note = pick(rng, plain_notes(beat, 1.0))
    if not isinstance(note, Note):
        return None
    at = note.end + 1
    stray = Note(at, at, note.pitch + 3, 90)
    free = not any(n.start <= at <= n.end for n in bass_of(beat).notes)
    if not free:
        return None
    faulty = beat.with_track(
        replace(
            bass_of(beat), notes=tuple(sorted((*bass_of(beat).notes, stray), key=lambda n: n.start))
        )
    )
    return Fault(
        "empty-note", faulty, at, at, AT_A_WRONG_NOTE, want=Want("bass", at, 0, None, absent=True)
    )


def stuck_note(beat: Beat, rng: random.Random) -> Fault | None:
    """A note is never ended, whether or not its pitch is played again."""
    note = pick(rng, plain_notes(beat, 0.5))
    if not isinstance(note, Note):
        return None
    faulty = swap(beat, note, replace(note, end=-1))
    want = Want("bass", note.start, 0, note.pitch % 12)
    return Fault("stuck-note", faulty, note.start, note.start, frozenset(), want=want)


def no_tempo(beat: Beat, rng: random.Random) -> Fault | None:
    """No tempo in the file."""
    faulty = write(replace(beat, states_tempo=False))
    return Fault("no-tempo", faulty, 0, beat.bars * beat.bar, everywhere=True)


def no_meter(beat: Beat, rng: random.Random) -> Fault | None:
    """No time signature in the file."""
    faulty = write(replace(beat, states_meter=False))
    return Fault("no-meter", faulty, 0, beat.bars * beat.bar, everywhere=True)


def no_air_before_repeat(beat: Beat, rng: random.Random) -> Fault | None:
    """The last long note of a phrase is held right up to the next one, which starts the same."""
    bounds = {e * beat.bar for _, e, _ in beat.truth.phrases[:-1]}
    near = beat.ms(12)
    notes = bass_of(beat).notes
    options = []
    for n in plain_notes(beat, 1.5):
        bound = next((b for b in bounds if 0 < b - n.end <= beat.division // 2 + near), None)
        if (
            bound
            and bound - n.start > 2.1 * beat.division
            and any(abs(m.start - bound) <= near for m in notes)
            and not any(n.start < m.start < bound - near for m in notes)
        ):
            options.append((n, bound))
    if not options:
        return None
    note, bound = rng.choice(options)
    following = next(m.start for m in notes if abs(m.start - bound) <= near)
    want = Want("bass", note.start, 0, note.pitch % 12)
    return Fault(
        "no-air-before-repeat",
        swap(beat, note, replace(note, end=following)),
        *place(note),
        want=want,
    )


def octave_slip(beat: Beat, rng: random.Random) -> Fault | None:
    """A held root an octave down, below all that the bass else plays and not under 30 Hz."""
    # what is shorter, such as the hits of a roll, tells of no register
    notes = [n for n in bass_of(beat).notes if n.end - n.start > 0.3 * beat.division]
    lowest = min(n.pitch for n in notes)
    bar_of = {n: (n.start + beat.ms(12)) // beat.bar for n in notes}
    bars = Counter((n.pitch % 12, bar_of[n]) for n in notes)
    usual = Counter(pitch for pitch, _ in {(n.pitch, bar_of[n]) for n in notes})
    options = [
        n
        for n in plain_notes(beat, 1.0)
        if LOWEST <= n.pitch - 12 < lowest
        and usual[n.pitch] > FEWEST_BARS
        and bars[n.pitch % 12, bar_of[n]] == 1
        and {bar_of[n] - 1, bar_of[n] + 1} <= set(bar_of.values())
    ]
    note = pick(rng, options)
    if not isinstance(note, Note):
        return None
    want = Want("bass", note.start, 0, note.pitch % 12)
    faulty = swap(beat, note, replace(note, pitch=note.pitch - 12))
    return Fault("octave-slip", faulty, *place(note), want=want)


def bass_misplaced(beat: Beat, rng: random.Random) -> Fault | None:
    """Four bars of the bass an eighth or a sixteenth late, in sixteen bars or more."""
    if beat.bars < 16:
        return None
    first, late = rng.randrange(1, beat.bars - 5), beat.division // rng.choice((2, 4))
    start, end = first * beat.bar, (first + 4) * beat.bar
    bass = bass_of(beat)
    inside = [n for n in bass.notes if start - beat.ms(12) <= n.start < end - beat.ms(12)]
    heard = {n.start // beat.bar for n in inside}
    others = {n.start // beat.bar for n in bass.notes} - heard
    if len(heard) < 4 or len(others) < 8:
        return None
    after = min((n.start for n in bass.notes if n.start > inside[-1].start), default=end + late)
    moved = [replace(n, start=n.start + late, end=n.end + late) for n in inside]
    moved[-1] = replace(moved[-1], end=max(min(moved[-1].end, after), moved[-1].start + 1))
    rest = [n for n in bass.notes if n not in inside]
    line = tuple(sorted((*rest, *moved), key=lambda n: (n.start, n.pitch)))
    return Fault(
        "bass-misplaced", beat.with_track(replace(bass, notes=line)), start, end, AT_A_WRONG_NOTE
    )
