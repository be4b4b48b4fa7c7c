"""What does the harmony sound in each eighth, said softly: chances where MIDI has notes?

The same columns as `basslint.hear.harmony.segments` cuts out of notes, each the mean of what it
would be over all notes that may sound.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.chances import NoteChances
from basslint.audio.notes import FIRST_NOTE, NOTES
from basslint.hear.harmony import segments as hard
from basslint.song.timing import BarGrid

Floats = NDArray[np.float64]

_PITCH = FIRST_NOTE + np.arange(NOTES)
_IN_CLASS = (_PITCH[:, None] % 12 == np.arange(12)).astype(np.float64)  # [notes, 12]
_APART = _PITCH[None, :] - _PITCH[:, None]  # [lowest, other] semitones
# Say of a note as bass by its distance from the lowest, 0 below it, as for MIDI: [lowest, other].
_CLOSE = np.where(_APART > 0, np.exp(-np.maximum(_APART, 0) / hard.LOW_REACH), 0.0)
_SAME_HAND = (np.abs(_APART) <= hard.NEAR_LOWEST).astype(np.float64)
_DEEP = np.clip((hard.DEEP - _PITCH) / hard.DEEP_RANGE, 0.0, 1.0)
_NEVER_SURE = 0.9999  # chances stop short of 1, so that their logarithm stays finite


def soft_segments(chances: NoteChances, grid: BarGrid) -> hard.Segments:
    """The eighths of ``grid`` with soft columns; ``chances`` has a row for each of them."""
    edges, accent, bar = hard.eighths(grid)
    heads = np.flatnonzero(accent != hard.OFF_BEAT) if len(accent) else np.zeros(0, np.intp)
    beat = np.concatenate((heads, [len(accent)])).astype(np.int64)
    many = np.diff(beat)
    sounds, struck = chances.sounds.astype(np.float64), chances.struck.astype(np.float64)
    low = np.add.reduceat(chances.lowest.astype(np.float64), heads, axis=0) / many[:, None]
    low /= np.maximum(low.sum(axis=1, keepdims=True), 1.0)  # one note is the lowest, or none
    loudest = np.maximum.reduceat(sounds, heads, axis=0)
    as_bass = np.repeat(low + (low @ _CLOSE) * loudest, many, axis=0)
    low = np.repeat(low, many, axis=0)
    bass = np.stack([as_bass[:, k == _PITCH % 12].max(axis=1) for k in range(12)], axis=1)
    sounding = _any_octave(sounds)
    return hard.Segments(
        edges=edges,
        accent=accent,
        bar=bar,
        sounding=sounding,
        sounds=np.asarray(sounding.any(axis=1)),
        struck=_any_octave(struck),
        bass=bass,
        depth=low @ _DEEP,
        attack=np.minimum((low * (struck @ _SAME_HAND)).sum(axis=1), 1.0),
        onsets=np.minimum(struck.sum(axis=1) / hard.FULL_CHORD, 1.0),
        harmonic_change=hard.harmonic_change(sounding),
    )


def _any_octave(chance: Floats) -> Floats:
    """Chance that a pitch class sounds in any octave, [n, 12], octaves taken as independent."""
    return np.asarray(-np.expm1(np.log1p(-np.minimum(chance, _NEVER_SURE)) @ _IN_CLASS))
