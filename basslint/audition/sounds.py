"""Which sounds make up a stretch of a song, and when does each of them begin?

They are columns first and samples later, so that what a mended song sounds can be told from what it
shares with the one as written.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.audition.guide import USUAL_OCTAVE, held_roots
from basslint.audition.loops import loop_sounds
from basslint.audition.repeated import Struck, Voice, repeated
from basslint.audition.sampled import one_shot_voice
from basslint.audition.tones import bass_tones
from basslint.audition.voices import (
    CHORD_RELEASE_S,
    CHORD_T60_S,
    HIT_S,
    RELEASE_S,
    Samples,
    Tone,
    bass_tone,
    chord_tone,
    drum_hit,
    raised_cosine,
    straight,
)
from basslint.hear.chart import Chart
from basslint.util.columns import unpaired
from basslint.util.records import record, replace

RATE = 44_100
GUESSED_T60_S = 1.5  # where no decay is stated, to have a sound at all; command and page say so
ROOTS_UP = 2  # octaves above the bass's: where the ear compares pitch best (common practice)
CHORD_LEVEL, DRUM_LEVEL = 0.16, 0.5  # of full scale at velocity 127
ROOT_LEVEL = 0.35  # of a root that is played to be checked: it stands before the harmony
_PIECE = 1 << 14  # samples of a tone that are made at once: they stay in the processor's cache
_GONE_T60 = 3.0  # by then a tone is 180 dB down, below the last of the 24 bits that are written
_CHORDS = Voice(
    sound=lambda tone, time: chord_tone(tone, time, RATE),
    release_s=CHORD_RELEASE_S,
    curve=straight,
    gone_s=_GONE_T60 * CHORD_T60_S,
)
_NONE = Struck(**{name: np.zeros(0) for name in ("start", "end", "level", "pitch")})


@record
class Wish:
    """What to render: bars (first, last) from 1 or None for all; ``octaves_up`` of the bass;
    ``solo``: the bass alone; ``small_speakers``: with harmonics that those can carry; ``roots``:
    the heard roots in place of the bass, two octaves up, to be checked by ear."""

    bars: tuple[int, int] | None = None
    octaves_up: int = 0
    solo: bool = False
    small_speakers: bool = False
    roots: bool = False


@record(eq=False, kw_only=True)
class Sounds:
    """All that sounds between two ``ticks`` of a song, also what is held from before.

    ``zero``, ``stop``: the two in seconds. ``bass``: its tones; ``held``: roots that are played,
    and notes of harmony and melody; ``hits``: drums, their keys as pitches; ``loops``: do those of
    the chart play? A sound of negative level is one that is taken out.
    """

    chart: Chart
    ticks: tuple[int, int]
    zero: float
    stop: float
    small_speakers: bool
    bass: tuple[Tone, ...]
    held: Struck
    hits: Struck
    loops: bool

    @property
    def last_s(self) -> float:
        """How many seconds they sound, all together; loops left out."""
        held = float((self.held.end - self.held.start).sum()) + HIT_S * len(self.hits.start)
        return held + sum(tone.end - tone.start for tone in self.bass)


def sounds_of(chart: Chart, wish: Wish, first: int, last: int) -> Sounds:
    """All that a wish asks for between two ticks."""
    seconds = chart.song.tempo.seconds
    zero, stop = seconds(first), seconds(last)
    held, hits = [_roots(chart, first, last)] if wish.roots else [], _NONE
    if not wish.solo:
        harmony, hits = _other_parts(chart, first, last)
        held.append(harmony)
    return Sounds(
        chart=chart,
        ticks=(first, last),
        zero=zero,
        stop=stop,
        small_speakers=wish.small_speakers,
        bass=() if wish.roots else _bass(chart, wish, first, last),
        held=_joined(held),
        hits=hits,
        loops=not wish.solo and chart.loops is not None,
    )


def _other_parts(chart: Chart, first: int, last: int) -> tuple[Struck, Struck]:
    """The notes of harmony and melody, and the hits of drums."""
    seconds = chart.song.tempo.seconds
    notes = chart.song.notes
    rows = np.flatnonzero((notes.start < last) & (notes.end > first))
    part, level = notes.part[rows], notes.velocity[rows] / 127
    every = Struck(
        start=seconds(notes.start[rows]),
        end=np.minimum(seconds(notes.end[rows]), seconds(last)),
        level=level,
        pitch=notes.pitch[rows].astype(np.float64),
    )
    drums, bass = (_plays(chart, role)[part] for role in ("drums", "bass"))
    hits = drums & (notes.start[rows] >= first)  # a hit rings for itself, however long its note is
    return every.take(~drums & ~bass, CHORD_LEVEL), every.take(hits, DRUM_LEVEL)


def _plays(chart: Chart, role: str) -> NDArray[np.bool_]:
    """Whether each part plays a role."""
    return np.array([each == role for each in chart.parts.role], dtype=bool)


def _bass(chart: Chart, wish: Wish, first: int, last: int) -> tuple[Tone, ...]:
    stop, up = chart.song.tempo.seconds(last), 12.0 * wish.octaves_up
    return tuple(
        replace(tone, end=min(tone.end, stop), pitches=tone.pitches + up)
        if up or tone.end > stop
        else tone
        for tone in bass_tones(chart, first, last)
    )


def _roots(chart: Chart, first: int, last: int) -> Struck:
    """The roots that were heard, two octaves above the register of the bass."""
    seconds = chart.song.tempo.seconds
    held = [
        r[:3] for r in held_roots(chart, USUAL_OCTAVE + ROOTS_UP) if r[0] < last and r[1] > first
    ]
    start, end, pitch = np.array(held, dtype=np.int64).reshape(-1, 3).T
    return Struck(
        start=seconds(start),
        end=np.minimum(seconds(end), seconds(last)),
        level=np.full(len(start), ROOT_LEVEL),
        pitch=pitch.astype(np.float64),
    )


def changes(one: Sounds, other: Sounds) -> Sounds | None:
    """What makes of ``one`` the ``other``: what is in that alone, and, taken out, what it lacks.

    None where they do not lie in the same seconds or are not played by the same voices, or differ
    in so much that the other is made faster by itself.
    """
    if (one.zero, one.stop, one.small_speakers) != (other.zero, other.stop, other.small_speakers):
        return None
    if one.chart.facts != other.chart.facts or _turns(one) != _turns(other):
        return None
    differ = replace(
        other,
        bass=_unlike_tones(one.bass, other.bass),
        held=_unlike(one.held, other.held),
        hits=_unlike(one.hits, other.hits),
        loops=False,
    )
    return differ if differ.last_s < other.last_s else None


def _turns(sounds: Sounds) -> list[tuple[object, ...]]:
    """How loops play: which file, from where in it, how fast, and in which seconds of the song."""
    loops, seconds = sounds.chart.loops, sounds.chart.song.tempo.seconds
    return [
        (t.file, t.turned_s, t.begins_s, t.speed, *seconds(t.start), *seconds(t.end))
        for t in (loops.turns if sounds.loops and loops is not None else ())
    ]


def _unlike(one: Struck, other: Struck) -> Struck:
    """What ``other`` has alone, and, taken out, what ``one`` has."""
    gone, new = unpaired(one.table, other.table)
    return _joined([one.take(gone, -1.0), other.take(new)])


def _unlike_tones(one: Sequence[Tone], other: Sequence[Tone]) -> tuple[Tone, ...]:
    """The same for tones of the bass."""

    def alone(tones: Sequence[Tone], in_: Counter[tuple[object, ...]]) -> Iterator[Tone]:
        for tone in tones:
            in_[tone.sound] -= 1
            if in_[tone.sound] < 0:
                yield tone

    there, here = (Counter(t.sound for t in tones) for tones in (one, other))
    lost = (replace(tone, level=-tone.level) for tone in alone(one, here))
    return (*lost, *alone(other, there))


def _joined(some: Sequence[Struck]) -> Struck:
    return _NONE if not some else Struck.of(np.concatenate([each.table for each in some]))


def samples_of(sounds: Sounds) -> Iterator[tuple[int, Samples]]:
    """Each sound's place in the stretch, and its samples there."""
    yield from _bass_samples(sounds)
    if sounds.loops:
        yield from loop_sounds(sounds.chart, *sounds.ticks, RATE)
    hits = sounds.hits
    columns = (np.rint((hits.start - sounds.zero) * RATE).astype(np.int64), hits.pitch, hits.level)
    for at, key, loud in zip(*(c.tolist() for c in columns), strict=True):
        yield at, loud * drum_hit(int(key), RATE)
    yield from repeated(_CHORDS, sounds.held, sounds.zero, RATE)


def _bass_samples(sounds: Sounds) -> Iterator[tuple[int, Samples]]:
    """The bass, by its own sound where that is stated and known."""
    facts, zero, small = sounds.chart.facts, sounds.zero, sounds.small_speakers
    t60 = facts.decay_s or GUESSED_T60_S
    one_shot = None if small else one_shot_voice(facts)
    still: list[Tone] = []
    for tone in sounds.bass:
        let_go = tone.end + RELEASE_S
        if one_shot is not None:
            for at, time in _moments(tone.start, let_go, zero):
                yield at, one_shot.tone(tone, time)
        elif (tone.pitches == tone.pitches[0]).all():
            still.append(tone)
        else:
            for at, time in _moments(tone.start, min(let_go, tone.start + _GONE_T60 * t60), zero):
                yield at, bass_tone(tone, time, t60, small)
    columns = np.array([(t.start, t.end, t.level, float(t.pitches[0])) for t in still])
    voice = Voice(
        sound=lambda tone, time: bass_tone(tone, time, t60, small),
        release_s=RELEASE_S,
        curve=raised_cosine,
        gone_s=_GONE_T60 * t60,
    )
    yield from repeated(voice, Struck.of(columns.reshape(-1, 4)), zero, RATE)


def _moments(start: float, end: float, zero: float) -> Iterator[tuple[int, Samples]]:
    """The samples from ``start`` to ``end`` in a stretch that begins at ``zero``, by pieces: the
    place of the first one of each, and when they are, in seconds of the song."""
    first = max(int(np.ceil((start - zero) * RATE)), 0)
    last = int(np.floor((end - zero) * RATE))
    for at in range(first, last + 1, _PIECE):
        time = np.arange(at, min(at + _PIECE, last + 1), dtype=np.float64)
        time /= RATE
        time += zero
        yield at, time
