"""Slides that go wrong, put into clean beats."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

from bench.beat_model import Beat, Control, Note, Slide
from bench.fault_model import (
    AT_A_WRONG_NOTE,
    Fault,
    Want,
    bass_of,
    chord_of,
    pick,
    plain_notes,
    swap,
)


def _slide(beat: Beat, rng: random.Random, *how: str) -> Slide | None:
    found = pick(rng, [s for s in beat.truth.slides if s.how in how])
    return found if isinstance(found, Slide) else None


def _goal(beat: Beat, slide: Slide) -> Note:
    """The note slid to (overlap, portamento) or the sounding note (bend)."""
    notes = bass_of(beat).notes
    if slide.how == "bend":
        return next(n for n in notes if n.start <= slide.start < n.end)
    return next(n for n in notes if n.start == slide.start and n.pitch == slide.target)


def _source(beat: Beat, slide: Slide) -> Note:
    notes = bass_of(beat).notes
    if slide.how == "bend":
        return _goal(beat, slide)
    return next(n for n in reversed(notes) if n.start < slide.start and n.pitch == slide.origin)


def _rebend(beat: Beat, slide: Slide, factor: float) -> Beat:
    """The slide's curve at another height."""
    bass, note = bass_of(beat), _goal(beat, slide)
    controls = tuple(
        replace(c, value=max(-8192, min(8191, round(c.value * factor))))
        if c.number < 0 and slide.start <= c.tick < note.end
        else c
        for c in bass.controls
    )
    return beat.with_track(replace(bass, controls=controls))


def slide_off_scale(beat: Beat, rng: random.Random) -> Fault | None:
    """A slide that lands outside scale and chord."""
    slide = _slide(beat, rng, "overlap", "bend", "portamento")
    if slide is None:
        return None
    goal, source = _goal(beat, slide), _source(beat, slide)
    chord = chord_of(beat, source)
    wrong = [
        by
        for by in (-1, 1)
        if (slide.target + by) % 12 not in beat.truth.scale | set(chord.pcs)
        and abs(slide.target + by - slide.origin) > 1
    ]
    if not wrong:
        return None
    by = rng.choice(wrong)
    if slide.how == "bend":
        span = slide.target - slide.origin
        if abs(span + by) > 12:
            return None
        faulty = _rebend(beat, slide, (span + by) / span)
        want = None  # the wheel is not told by notes; see the bend's own tests
    else:
        faulty = swap(beat, goal, replace(goal, pitch=goal.pitch + by))
        want = Want("bass", goal.start, 0, goal.pitch % 12)
    explains = AT_A_WRONG_NOTE
    return Fault("slide-off-scale", faulty, source.start, goal.end, explains, want=want)


def slide_after_decay(beat: Beat, rng: random.Random) -> Fault | None:
    """A slide late in its note, and a sound that has died away by then."""
    options = [s for s in beat.truth.slides if s.how == "overlap"]  # others strike anew
    options = [
        s for s in options if _goal(beat, s).end - _source(beat, s).start >= 2.5 * beat.division
    ]
    slide = pick(rng, options)
    if not isinstance(slide, Slide):
        return None
    goal, source = _goal(beat, slide), _source(beat, slide)
    late = goal.end - beat.division // 2
    seconds = (late - source.start) * 60 / beat.bpm / beat.division + 0.1
    latest = (
        max(
            ((s.land or s.start) - _source(beat, s).start) * 60 / beat.bpm / beat.division
            for s in beat.truth.slides
            if s is not slide
        )
        if len(beat.truth.slides) > 1
        else 0.0
    )
    decay = 60 * seconds / 32
    if 60 * latest / decay > 20:
        return None
    tail = source.end - goal.start
    bass = bass_of(beat)
    moved = {id(goal): replace(goal, start=late), id(source): replace(source, end=late + tail)}
    controls = tuple(
        Control(late, c.number, c.value)
        if c.tick == goal.start and c.number in (65, 84) and c.value
        else c
        for c in bass.controls
    )
    notes = tuple(
        sorted((moved.get(id(n), n) for n in bass.notes), key=lambda n: (n.start, n.pitch))
    )
    faulty = beat.with_track(
        replace(bass, notes=notes, controls=tuple(sorted(controls, key=lambda c: c.tick)))
    )
    want = None  # earlier is enough; how early, the rule's fix decides
    return Fault("slide-after-decay", faulty, source.start, goal.end, decay_s=decay, want=want)


def slide_between_notes(beat: Beat, rng: random.Random) -> Fault | None:
    """A bend that lands 40 cents off."""
    slide = _slide(beat, rng, "bend")
    if slide is None:
        return None
    span = slide.target - slide.origin
    goal = _goal(beat, slide)
    faulty = _rebend(beat, slide, (span - 0.4 * (1 if span > 0 else -1)) / span)
    return Fault("slide-between-notes", faulty, goal.start, goal.end)


def slide_never_lands(beat: Beat, rng: random.Random) -> Fault | None:
    """The note slid to ends before the glide is over."""
    slide = _slide(beat, rng, "overlap")
    if slide is None:
        return None
    goal, source = _goal(beat, slide), _source(beat, slide)
    short = replace(goal, end=goal.start + beat.ms(50))
    bass = bass_of(beat)
    notes = tuple(
        short if n is goal else replace(n, end=short.end - beat.ms(10)) if n is source else n
        for n in bass.notes
    )
    faulty = beat.with_track(replace(bass, notes=notes))
    return Fault(
        "slide-never-lands", faulty, source.start, goal.end, frozenset({"accidental-slide"})
    )


def bend_left_open(beat: Beat, rng: random.Random) -> Fault | None:
    """The wheel stays up after a slide, and the next notes are out of tune."""
    slide = _slide(beat, rng, "bend")
    if slide is None:
        return None
    bass, goal = bass_of(beat), _goal(beat, slide)
    following = [n for n in bass.notes if n.start >= goal.end]
    later = [c.tick for c in bass.controls if c.number < 0 and c.tick > goal.end]
    if not following or (later and later[0] <= following[0].start):
        return None
    controls = tuple(
        c for c in bass.controls if not (c.number < 0 and c.tick == goal.end and c.value == 0)
    )
    if len(controls) == len(bass.controls):
        return None
    faulty = beat.with_track(replace(bass, controls=controls))
    explains = frozenset(
        {"slide-off-scale", "slide-between-notes", "off-root", "slide-after-decay"}
    )
    return Fault(
        "bend-left-open", faulty, goal.start, (later or [beat.bars * beat.bar])[0], explains
    )


def bend_range_assumed(beat: Beat, rng: random.Random) -> Fault | None:
    """The file bends and does not say how far."""
    if not any(s.how == "bend" for s in beat.truth.slides):
        return None
    bass = bass_of(beat)
    controls = tuple(c for c in bass.controls if c.number < 0)
    faulty = beat.with_track(replace(bass, controls=controls))
    explains = frozenset({"slide-off-scale", "slide-between-notes", "off-root"})
    return Fault("bend-range-assumed", faulty, 0, beat.bars * beat.bar, explains, everywhere=True)


def accidental_slide(beat: Beat, rng: random.Random) -> Fault | None:
    """On a part that glides, a note laps over the next one by a few milliseconds."""
    if not any(s.how == "overlap" for s in beat.truth.slides):
        return None
    notes = bass_of(beat).notes
    plain = plain_notes(beat, 0.5)
    options = [
        (a, b)
        for a, b in pairwise(notes)
        if a in plain
        and b in plain
        and a.pitch != b.pitch
        and 0 <= b.start - a.end <= beat.division // 2
    ]
    if not options:
        return None
    a, b = rng.choice(options)
    faulty = swap(beat, a, replace(a, end=b.start + max(2, beat.ms(12))))
    explains = frozenset({"slide-off-scale"})
    want = Want("bass", a.start, 0, a.pitch % 12, end=b.start)
    return Fault("accidental-slide", faulty, a.start, b.end, explains, want=want)
