"""What is a fault that was put into a beat, and where may it go?"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

from bench.beat_bass import chord_at
from bench.beat_model import Beat, Chord, Note, Track


@dataclass(frozen=True, slots=True)
class Want:
    """What a mended beat has to hold: a bass note of that pitch class (and place) again.

    ``start`` within ``near`` ticks; ``pitch_class`` None where any will do; ``absent``: instead, no
    note of exactly this place may be left. ``ends_at``: instead, notes stand
    so many ticks (``hits``) before one of these ticks.
    """

    role: str
    start: int
    near: int
    pitch_class: int | None
    absent: bool = False
    end: int | None = None
    ends_at: tuple[int, ...] = ()
    hits: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Fault:
    """A beat with one fault. ``start``–``end``: ticks where a finding is in the right place.

    ``as_good``: rules that say as much about the fault as its own (one cause, one finding).
    ``explains``: other rules that may rightly speak up at that place. ``everywhere``: the fault is
    one of the whole song. ``decay_s``, ``cents``: facts to state with it. ``want``: what mending
    has to bring back, None where no edit can know it.
    """

    rule: str
    beat: Beat
    start: int
    end: int
    explains: frozenset[str] = frozenset()
    everywhere: bool = False
    decay_s: float | None = None
    cents: float | None = None
    want: Want | None = None
    as_good: frozenset[str] = frozenset()


Inject = Callable[[Beat, random.Random], Fault | None]


AT_A_WRONG_NOTE = frozenset({"outside-scale", "rubs-with-harmony", "inverted-root", "off-root"})


def bass_of(beat: Beat) -> Track:
    return beat.track("bass")


def swap(beat: Beat, old: Note, *new: Note) -> Beat:
    bass = bass_of(beat)
    notes = [n for n in bass.notes if n is not old] + list(new)
    return beat.with_track(
        replace(bass, notes=tuple(sorted(notes, key=lambda n: (n.start, n.pitch))))
    )


def plain_notes(beat: Beat, beats: float = 0.0) -> list[Note]:
    """Bass notes of at least so many beats that are part of no roll and no slide."""
    busy = [(f.start - 1, f.end + 1) for f in beat.truth.fills if f.role == "bass"]
    slid = [s.start for s in beat.truth.slides]
    return [
        n
        for n in bass_of(beat).notes
        if n.end - n.start >= beats * beat.division
        and not any(a <= n.start <= b for a, b in busy)
        and not any(n.start - 1 <= s <= n.end + 1 for s in slid)
    ]


def chord_of(beat: Beat, note: Note) -> Chord:
    return chord_at(beat.truth.chords, note.start + beat.ms(12))


def pick(rng: random.Random, options: list) -> object | None:  # type: ignore[type-arg]
    return rng.choice(options) if options else None


def place(note: Note) -> tuple[int, int]:
    return note.start, note.end
