"""Bass lines, chords and phrases in a few words, for tests of what is heard in them."""

from __future__ import annotations

import io
from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import mido
import numpy as np
from made_roots import made_roots

from basslint.hear.bassline.functions import FUNCTIONS, note_functions
from basslint.hear.bassline.pattern import Pattern, hear_pattern
from basslint.hear.harmony.cover import chord_rows
from basslint.hear.harmony.sources import Roots
from basslint.hear.key.keys import Keys
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

TPQ = 96
BAR = 4 * TPQ
Note = tuple[float, float, int]  # start and end in quarters, pitch
Chord = tuple[float, str]  # length in quarters, chord such as "Am"

_NAMES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11, "F#": 6, "C#": 1, "Bb": 10}


def song_of(notes: Sequence[Note], bars: int) -> Song:
    track = mido.MidiTrack()
    edges = [(round(s * TPQ), 1, p) for s, _, p in notes]
    edges += [(round(e * TPQ), 0, p) for _, e, p in notes]
    now = 0
    for tick, on, pitch in sorted(edges):
        message = mido.Message("note_on" if on else "note_off", note=pitch, time=tick - now)
        track.append(message)
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(bars * BAR - now, 0)))
    midi = mido.MidiFile(ticks_per_beat=TPQ, tracks=[track])
    out = io.BytesIO()
    midi.save(file=out)
    return build(scan(out.getvalue()))


def roots_of(chords: Sequence[Chord]) -> Roots:
    ends = np.cumsum([round(length * TPQ) for length, _ in chords]).astype(np.int64)
    names = [name for _, name in chords]
    root = [-1 if n == "-" else _NAMES[n.removesuffix("m")] for n in names]
    quality = ["minor" if n.endswith("m") else "major" for n in names]
    return made_roots(np.append(0, ends[:-1]), ends, root, quality)


def a_minor(bars: int) -> Keys:
    scale = np.zeros((1, 12), dtype=bool)
    scale[0, [9, 11, 0, 2, 4, 5, 7]] = True
    return Keys(
        start=np.array([0]),
        end=np.array([bars * BAR]),
        tonic=np.array([9], np.int8),
        mode=("minor",),
        scale=scale,
        certainty=np.ones(1),
        scale_certainty=np.ones(1),
        fit=scale.astype(np.float64),
    )


def phrases(*edges: int) -> Any:
    return SimpleNamespace(start_bar=np.array(edges[:-1]), end_bar=np.array(edges[1:]))


def pattern_of(song: Song, roots: Roots, *edges: int) -> Pattern:
    """The pattern of a song of bass notes alone, in phrases between some bar lines."""
    chords = chord_rows(song.notes, roots, song.division)
    return hear_pattern(song, song.notes, roots, chords, phrases(*edges))


def functions_in(song: Song, roots: Roots, keys: Keys, pattern: Pattern) -> list[str]:
    """What each note of a song of bass notes alone does."""
    chords = chord_rows(song.notes, roots, song.division)
    found = note_functions(song, song.notes, roots, chords, keys, lambda: pattern)
    return [FUNCTIONS[f] for f in found.tolist()]


def bars_of(*pitches: int | Sequence[int]) -> list[Note]:
    """One entry a bar: a pitch held for the bar, or pitches of equal length."""
    notes: list[Note] = []
    for bar, entry in enumerate(pitches):
        line = [entry] if isinstance(entry, int) else list(entry)
        step = 4 / len(line)
        notes += [
            (4 * bar + i * step, 4 * bar + (i + 1) * step, pitch) for i, pitch in enumerate(line)
        ]
    return notes


LOOP: list[Chord] = [(4, "Am"), (4, "F"), (4, "C"), (4, "G")] * 2
ON_A: list[Chord] = [(32, "Am")]
