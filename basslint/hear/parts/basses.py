"""Which line carries the bass, and which lines play it besides?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.parts.role_scores import BASS_REGISTER
from basslint.hear.parts.texture import Floats, Texture
from basslint.song.arrangement import Notes
from basslint.util.columns import TINY, found_in, rows_where

CLAIM = 0.5  # a role is claimed from this certainty on: likelier than not

# A busier line carries the bass in place of one that holds its notes: so many times the notes, so
# much in common, and not an octave higher.
_BUSIER, _HELD, _OCTAVE = 1.5, 0.65, 12.0
LAYER = 0.8  # share of a layer's onsets that it has in common with the bass
MIDDLE = 60.0  # C4: a line whose mean lies above it is no bass, whatever it is called
_SINGLE = 0.1  # a layer has at most so much of its time in chords
# log-odds by which the line that carries the bass must be likelier than any other line with other
# notes: with names and programs hidden, a line that is no bass is ahead by more in .006 of songs,
# by less in .014 (tests/bench/labelled_basses.py, 351 songs)
_CLOSE = 1.5


def carrier(
    notes: Notes,
    line: NDArray[np.int64],
    t: Texture,
    bass: Floats,
    called: NDArray[np.bool_],
) -> int:
    """The line that carries the bass: the likeliest, or a busier one that it holds the notes of.

    A pad or an organ that holds the bass's notes under it is as low and as much the root; the line
    is the one that is played. ``bass`` [lines]: how likely each is a bass; one is likely enough.
    ``called``: by its name or program; one that is not takes no place of one that is.
    """
    lead = int(bass.argmax())
    likely = rows_where((bass >= CLAIM) & (called | ~called[lead]))
    if len(likely) == 1:
        return lead
    busier = likely[
        (t.notes[likely] >= _BUSIER * t.notes[lead]) & (t.mean[likely] < t.mean[lead] + _OCTAVE)
    ]
    if not len(busier):
        return lead
    key = notes.start * 12 + notes.pitch % 12
    mine = key[line == lead]
    for k in busier[np.argsort(-t.notes[busier], kind="stable")].tolist():
        theirs = key[line == k]
        if max(found_in(mine, theirs).mean(), found_in(theirs, mine).mean()) >= _HELD:
            return int(k)
    return lead


def rival_of(
    notes: Notes,
    line: NDArray[np.int64],
    bass: Floats,
    called: NDArray[np.bool_],
    lead: int,
) -> int:
    """The line that may as well be the bass as the one that carries it; −1 for none.

    One nearly as likely (``bass`` [lines]) whose notes are others: a line that plays the same ones,
    in whatever octave, is no other bass. None where the lead is ``called`` so: a second one that is
    called so too is a bass beside it, and no question.
    """
    if lead < 0 or called[lead] or len(bass) < 2:
        return -1
    rest = bass.copy()
    rest[lead] = 0.0
    odds = np.log(np.maximum(bass, TINY) / np.maximum(1.0 - bass, TINY))
    near = rows_where((rest > 0.0) & (odds > odds[lead] - _CLOSE))
    key = notes.start * 12 + notes.pitch % 12
    mine = key[line == lead]
    for k in near[np.argsort(-rest[near], kind="stable")].tolist():
        theirs = key[line == k]
        if min(found_in(mine, theirs).mean(), found_in(theirs, mine).mean()) < LAYER:
            return int(k)
    return -1


def bass_lines(
    notes: Notes,
    line: NDArray[np.int64],
    t: Texture,
    bass: Floats,
    may: NDArray[np.bool_],
    named: NDArray[np.bool_],
    lead: int,
) -> NDArray[np.bool_]:
    """Which lines are bass: the lead, those ``named`` so, its layers, and other low lines.

    A layer repeats the lead at the unison or in octaves, onset by onset; another low line must be
    sure enough by itself.
    """
    result = named.copy()
    if lead < 0:
        return result
    result[lead] = True
    near = may & (t.mean < MIDDLE)  # a layer may lie an octave up
    near[lead] = False
    if np.count_nonzero(near):
        key = notes.start * 12 + notes.pitch % 12
        shared = found_in(key, key[line == lead])
        common = np.bincount(line, weights=shared, minlength=len(bass)) / t.notes
        result |= near & (common >= LAYER) & (t.voices < _SINGLE)
        result |= near & (bass >= CLAIM) & (t.mean < BASS_REGISTER)
    return result
