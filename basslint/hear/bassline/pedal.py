"""Which bass notes are pedal points, held or struck again while the chords pass over them?

On the tonic, on a tone that is a root of the passage, or under three chords: see `pedal_notes`.
Common practice of pedal points, by Open Music Theory; the numbers have no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.ornaments import NEAR, Runs
from basslint.hear.harmony.sources import Roots
from basslint.song.arrangement import Notes, Song
from basslint.util.columns import last_row, within

_PEDAL_ROOTS = 3  # under two chords a common floor may be chance, a slip that stays too long
_IN_SIGHT = 0.4  # certainty of a root: below it the chords may be one that nobody can name
_PEDAL_SHARE = 0.75  # of a song's bass on one tone: a pedal for four bars is one throughout
_HALF = 0.5  # of a line's time: a tone that it stands on so long is what it stands on
_PEDAL_REST = 4.0  # quarters: a pedal is struck at least once a bar
_MOST_CHORDS = 64  # of one note: bounds time; more of them make a drone all the same


def pedal_notes(
    song: Song,
    bass: Notes,
    roots: Roots,
    row: NDArray[np.intp],
    runs: Runs,
    stretch: NDArray[np.int64],
    kind: NDArray[np.str_],
    tonic: NDArray[np.bool_],
    consonant: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Whether a pedal explains each bass note, bool [m].

    ``row``, ``stretch`` [m]: the rows of ``roots`` and of the pattern that each note belongs to;
    ``kind`` [m]: kind of that pattern; ``tonic`` [m]: the note is the tonic; ``consonant`` [m]: it
    is in the scale and rubs against no root for long. Linear in notes.
    """
    classes = bass.pitch.astype(np.int64) % 12
    of_passage = _is_a_root_of(roots, classes, stretch, row)
    pedal = (kind == "root-pedal") | (kind == "octave")
    pedal &= tonic | (of_passage & consonant)
    pedal &= _returns(song, bass, roots, stretch, runs)
    first = runs.first[runs.of_note]  # a run that began as a root goes on as a pedal
    begun = (row[first] >= 0) & (roots.root[np.maximum(row[first], 0)] == classes)
    through = _pedal_of_song(bass, kind) & (tonic | consonant)
    pedal |= (tonic & begun) | through | _under_three_roots(song, bass, roots, row)
    return np.asarray(pedal)


def _is_a_root_of(
    roots: Roots, classes: NDArray[np.int64], stretch: NDArray[np.int64], row: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether each note is the root of some chord under its own stretch of bars."""
    known = (row >= 0) & (stretch >= 0)
    table = np.zeros((int(stretch.max()) + 2, 12 + 1), dtype=bool)  # −1, no root, comes last
    table[stretch[known], roots.root[row[known]]] = True
    return np.asarray(table[stretch, classes] & (stretch >= 0))


def _returns(
    song: Song, bass: Notes, roots: Roots, stretch: NDArray[np.int64], runs: Runs
) -> NDArray[np.bool_]:
    """Whether a pedal may stand on each note; any other is one note alone, as a slip is.

    It may on a tone that its bars stand on half the time, on one struck again at once, and on one
    held over from a chord that it is the root of.
    """
    classes, near = bass.pitch % 12, NEAR * song.division
    place = (stretch + 1) * 12 + classes  # −1, no pattern, comes first
    long = np.maximum(bass.end - bass.start, 1)
    held = np.bincount(place, long, minlength=12 * (int(stretch.max()) + 2)).reshape(-1, 12)
    result = held.ravel()[place] >= _HALF * held.sum(axis=1)[stretch + 1]
    result |= np.bincount(runs.of_note)[runs.of_note] > 1
    for tick in (bass.start + near, bass.end - near):
        row = last_row(roots.start, tick)
        result |= roots.root[row] == classes
    return np.asarray(result)


def _pedal_of_song(bass: Notes, kind: NDArray[np.str_]) -> NDArray[np.bool_]:
    """Whether each note is of the pitch class on which the line stands as a pedal most of the time.

    Such a line is a pedal in the bars, too, that a roll, a slide or a slip makes a mixed pattern.
    """
    held = kind == "root-pedal"
    length = np.maximum(bass.end - bass.start, 1)
    classes = bass.pitch % 12
    tone = np.bincount(classes[held], weights=length[held], minlength=12).argmax()
    most = length[held].sum() >= _HALF * length.sum()
    most |= held.any() and length[classes == tone].sum() >= _PEDAL_SHARE * length.sum()
    return np.asarray(most & (classes == tone))


def _under_three_roots(
    song: Song, bass: Notes, roots: Roots, row: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether each note is held, or struck again with no other between, under three roots or more.

    Whatever the key: a floor that stays while three chords pass over it is a pedal point.
    """
    order = bass.part.argsort(kind="stable")
    part, classes = bass.part[order], bass.pitch[order] % 12
    rest = np.concatenate(([0], bass.start[order][1:] - bass.end[order][:-1]))
    new = np.concatenate(([True], (part[1:] != part[:-1]) | (classes[1:] != classes[:-1])))
    new |= rest > _PEDAL_REST * song.division
    stand = np.empty(len(bass), dtype=np.int64)
    stand[order] = new.cumsum() - 1
    # a long note stands under every chord that begins while it lasts
    first = roots.end.searchsorted(bass.start, side="right")
    count = within(roots.start.searchsorted(bass.end) - first, 0, _MOST_CHORDS)
    chord = np.arange(count.sum()) - np.repeat(count.cumsum() - count, count)
    chord += first.repeat(count)
    of_stand = stand.repeat(count)
    near = NEAR * song.division
    shared = np.minimum(bass.end.repeat(count), roots.end[chord])
    shared -= np.maximum(bass.start.repeat(count), roots.start[chord])
    heard = (roots.root[chord] >= 0) & (shared > near)
    heard |= chord == row.repeat(count)
    heard &= (roots.root[chord] >= 0) & (roots.certainty[chord] >= _IN_SIGHT)
    under = np.zeros((int(stand.max()) + 1, 12), dtype=bool)
    under[of_stand[heard], roots.root[chord[heard]]] = True
    return np.asarray(under.sum(axis=1)[stand] >= _PEDAL_ROOTS)
