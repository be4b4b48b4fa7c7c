"""What does each bass note do in its harmony and its line?

A note off the root is not wrong for that: it may be a tone of the chord, a pedal, the second note
of a two-note line, or an ornament that leads from one note to the next.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.ornaments import SHORT, ornaments, repeated_notes
from basslint.hear.bassline.pedal import pedal_notes
from basslint.hear.bassline.two_notes import of_two
from basslint.hear.form.bars import bar_of_onset
from basslint.hear.harmony.sources import Roots
from basslint.hear.key.keys import Keys
from basslint.song.arrangement import Notes, Song
from basslint.theory.general_midi import KEYS
from basslint.util.columns import found_in, last_row, rows_where

if TYPE_CHECKING:
    from basslint.hear.bassline.pattern import Pattern

FUNCTIONS = (
    "other",  # nothing explains it, or no root is heard
    "root",
    "octave",  # the root in a higher register than the line's lowest root under this chord
    "chord-tone",
    "pedal",
    "second-note",  # of a two-note line
    "passing",
    "approach",
    "neighbour",
    "stepwise-line",
    "grace",  # a short note slurred to one beside it: where a slide sets out or what it touches
)
_CODE = {name: code for code, name in enumerate(FUNCTIONS)}
_RUBS = (1, 11)  # semitones above the root: a minor second or a major seventh
_TONE_OF_PATTERN = 8  # one in so many bars of a pattern on one tone is no slip, more are its tone


def note_functions(
    song: Song,
    bass: Notes,
    roots: Roots,
    row: NDArray[np.intp],
    keys: Keys,
    pattern: Callable[[], Pattern],
) -> NDArray[np.int8]:
    """Name the function of each bass note: int8 [m], indexes into `FUNCTIONS`.

    ``bass`` holds the notes of the bass parts in order of time; ``row`` [m]: the row of ``roots``
    that each belongs to, as from `harmony.cover.chord_rows`; ``pattern`` is asked for only where a
    note is no tone of its chord. Notes under no root are "other". The simplest reading wins: root
    and octave, chord tone, pedal, stepwise line, second note, passing, neighbour, approach, grace.
    A foreign note that rubs a semitone against the root for longer than a beat is explained by
    nothing but a pedal: on the tonic, or under three chords. Linear in notes.
    """
    result = np.zeros(len(bass), dtype=np.int8)
    if not len(bass) or not len(roots):
        return result
    safe = np.maximum(row, 0)
    known = (row >= 0) & (roots.root[safe] >= 0)
    pitch = bass.pitch.astype(np.int64)
    above = (pitch - roots.root[safe]) % 12
    of_chord = roots.tones[safe, above]
    is_root = (above == 0) | (roots.bass[safe] == pitch % 12)
    if np.count_nonzero(known & ~of_chord & ~is_root):
        _mark_in_line(result, song, bass, roots, row, keys, pattern())
    result[of_chord] = _CODE["chord-tone"]
    result[is_root] = _CODE["root"]
    lowest = np.full(len(roots), KEYS, dtype=np.int64)
    np.minimum.at(lowest, row[known & is_root], pitch[known & is_root])
    result[is_root & (pitch > lowest[safe])] = _CODE["octave"]
    result[~known] = _CODE["other"]
    return result


def _mark_in_line(
    result: NDArray[np.int8],
    song: Song,
    bass: Notes,
    roots: Roots,
    row: NDArray[np.intp],
    keys: Keys,
    pattern: Pattern,
) -> None:
    """Name what notes do in the line and over the harmony, whatever tone of the chord they are."""
    safe = np.maximum(row, 0)
    known = (row >= 0) & (roots.root[safe] >= 0)
    above = (bass.pitch - roots.root[safe]) % 12
    stretch = pattern.row_of(bass.start, song.grid)
    kind = np.array([*pattern.kind, ""])[stretch]
    tonic, in_scale = _of_key(bass, keys)
    beat = song.grid.felt_beat(song.grid.bar_of(bass.start))
    long = bass.end - bass.start > SHORT * beat
    consonant = in_scale & ~(long & found_in(above, _RUBS))
    runs = repeated_notes(song, bass)
    for function, notes in ornaments(song, bass, roots, row, runs):
        result[notes] = _CODE[function]
    second = of_two(bass, known, above, stretch, kind) & consonant
    result[second] = _CODE["second-note"]
    stepwise = known & (kind == "stepwise") & consonant & _stands(song, bass, pattern)
    result[stepwise] = _CODE["stepwise-line"]
    pedal = pedal_notes(song, bass, roots, row, runs, stretch, kind, tonic, consonant)
    result[pedal] = _CODE["pedal"]


def _of_key(bass: Notes, keys: Keys) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether each note is the tonic, and whether in the scale: where no key is known, all are."""
    if not len(keys):
        return np.zeros(len(bass), dtype=bool), np.ones(len(bass), dtype=bool)
    row = last_row(keys.start, bass.start)
    tonic = np.asarray(keys.tonic[row] == bass.pitch % 12)
    return tonic, np.asarray(keys.scale[row, bass.pitch % 12])


def _stands(song: Song, bass: Notes, pattern: Pattern) -> NDArray[np.bool_]:
    """Whether each note is of the pitch class that its bar stands on longest.

    And more than one in eight bars of its pattern stand there: one alone is a slip.
    """
    bar = bar_of_onset(bass.start, song.grid)
    key = bar * 12 + bass.pitch % 12
    weight = np.maximum(bass.end - bass.start, 1)
    held = np.bincount(key, weights=weight, minlength=song.grid.bars * 12).reshape(-1, 12)
    main, stretch = held.argmax(axis=1), pattern.row_at(np.arange(song.grid.bars))
    struck = rows_where((held.sum(axis=1) > 0) & (stretch >= 0))
    place = np.maximum(pattern.row_at(bar), 0) * 12 + main[bar]
    often = np.bincount(stretch[struck] * 12 + main[struck], minlength=int(place.max()) + 1)
    length = (pattern.end_bar - pattern.start_bar)[place // 12] if len(pattern) else 0
    return np.asarray((main[bar] == bass.pitch % 12) & (_TONE_OF_PATTERN * often[place] > length))
