"""Where do parts that are not the harmony play chords?

A lead that drops into a chord for a bar, a riff of fifths: there such a part is harmony, whatever
its role in the rest of the song. Common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.parts.parts import Parts
from basslint.song.arrangement import Song
from basslint.util.columns import differences, found_in

_TOGETHER = 16  # strokes within a quarter / 16 of each other are struck together, strummed or not
_CHORD_TONES = 3  # pitch classes struck together that are a chord
_FIFTH = (5, 7)  # semitones between two pitch classes that are a power chord, either way round
_MOSTLY = 0.5  # share of what a part strikes in a bar that chords must be: a double stop is none


def rows_of_chords(song: Song, parts: Parts) -> NDArray[np.intp]:
    """Rows of ``song.notes``, rising, that are struck as chords in parts beside the harmony.

    Parts of the bass and of drums never count, nor does any part where the user states the harmony.
    Linear in notes, but for sorting.
    """
    none = np.zeros(0, dtype=np.intp)
    if any(parts.stated[i] for i in parts.harmony):
        return none
    asked = [
        i
        for i, role in enumerate(parts.role)
        if role in ("melody", "other") and i not in parts.harmony
    ]
    rows = song.rows_of(asked)
    if not len(rows):
        return none
    notes = song.notes.take(rows)
    line = np.asarray(parts.group)[notes.part]
    order = np.lexsort((notes.start, line))
    line, start = line[order], notes.start[order]
    apart = differences(start) * _TOGETHER > song.division
    new = np.concatenate(([True], (differences(line) != 0) | apart))
    stroke = new.cumsum() - 1  # of each note
    tones = np.zeros((int(stroke[-1]) + 1, 12), dtype=bool)
    tones[stroke, notes.pitch[order] % 12] = True
    count = tones.sum(axis=1)
    low = tones.argmax(axis=1)
    apart_by = 11 - tones[:, ::-1].argmax(axis=1) - low
    chord = (count >= _CHORD_TONES) | ((count == 2) & found_in(apart_by, _FIFTH))
    if not np.count_nonzero(chord):
        return none
    bars = song.grid.bars + 1
    bar = line[new] * bars + song.grid.bar_of(start[new])
    share = np.bincount(bar, weights=chord) / np.maximum(np.bincount(bar), 1)
    chord &= share[bar] >= _MOSTLY
    return np.sort(rows[order[chord[stroke]]])
