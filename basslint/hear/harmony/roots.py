"""Which root does the harmony stand on, when, and how sure is that?

The bass under test has no say: the caller names the harmony parts, nothing else is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.accents import metrical_accents
from basslint.hear.harmony.chords import evidence, hearing, quality_share
from basslint.hear.harmony.few_tones import doubt_few_tones
from basslint.hear.harmony.hmm import posterior
from basslint.hear.harmony.loop import mean_of_repeats
from basslint.hear.harmony.melody import chord_weight
from basslint.hear.harmony.segments import Segments, cut
from basslint.hear.harmony.sources import Roots, no_roots
from basslint.hear.harmony.stretches import stretches
from basslint.hear.stuck_notes import end_stuck_notes
from basslint.song.arrangement import Song
from basslint.util.columns import (
    differences,
    distinct,
    rows_where,
    turns,
)

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

# From this certainty on a root is fit to be acted on: on hand-corrected chords of pop songs .978 of
# the time heard so is right with all notes, .930 with those from G3 up (see tests/bench).
CERTAIN = 0.87

# Log-odds that the chord changes on a bar line, half bar, beat, eighth between beats, where nothing
# is struck there; and what speaks for a change: many notes struck (0..1), other pitch classes than
# before (0..1).
_CHANGE = np.array([2.0, 0.8, -0.8, -4.0])
_CHANGE_ONSETS, _CHANGE_TURN = 1.5, 0.85
_SAME_ROOT = 0.1  # share of chord changes that only change the quality


def hear_roots(
    song: Song, harmony: Sequence[int], elsewhere: NDArray[np.intp] | None = None
) -> Roots:
    """Hear the roots of some parts (indexes into ``song.parts``).

    ``elsewhere``: rows of ``song.notes`` in other parts that are chords there. The stretches run
    from the first to the last sounding note of all these; empty where there are none. Time is
    linear in notes and bars.
    """
    rows = song.rows_of(harmony)
    if elsewhere is not None and len(elsewhere):
        rows = distinct(np.concatenate((rows, elsewhere)))
    notes = end_stuck_notes(song.notes.take(rows), song.division)
    segments = cut(notes, song.grid)
    if not np.count_nonzero(segments.sounds):
        return no_roots()
    heard = hearing(segments)
    heard += mean_of_repeats(heard, segments)
    silent = _long_silence(segments)
    plays = rows_where(~silent)  # long silences need no decoding, however long a file claims
    weight = chord_weight(notes, segments)[plays, None].astype(np.float32)
    by_root, of_best = posterior(
        heard[plays] * weight,
        evidence,
        change_chance(segments)[plays],
        quality_share(),
        _SAME_ROOT,
    )
    roots = stretches(segments, silent, by_root, of_best)
    return doubt_few_tones(roots, heard[:, :12], segments.edges)


def change_chance(segments: Segments) -> Floats:
    """Probability that the chord changes where each segment begins, by place and attack alone."""
    odds = (
        _CHANGE[metrical_accents(segments)]
        + _CHANGE_ONSETS * segments.onsets
        + _CHANGE_TURN * segments.harmonic_change
    )
    return _when_heard(1.0 / (1.0 + np.exp(-odds)), segments.sounds)


def _when_heard(change: Floats, sounds: NDArray[np.bool_]) -> Floats:
    """Move the chance of a change in a silence to the moment at which harmony sounds again.

    A chord that is struck short stays in the ear until the next one; that it has changed at any of
    the places in between is heard then.
    """
    stays = np.zeros(len(change) + 1)
    np.log1p(-change).cumsum(out=stays[1:])
    heard = rows_where(sounds)
    at = stays[heard + 1]
    before = np.zeros(len(at))
    before[1:] = at[:-1]
    result = np.zeros(len(change))
    result[heard] = -np.expm1(at - before)
    return result


def _long_silence(segments: Segments) -> NDArray[np.bool_]:
    """Silences of a bar and more; a shorter one is a breath inside the harmony."""
    quiet = np.logical_not(segments.sounds).astype(np.int8)
    if not np.count_nonzero(quiet):
        return quiet.astype(np.bool_)
    edge = rows_where(differences(np.concatenate(([0], quiet, [0]))))
    first, last = edge[::2], edge[1::2]
    bar = rows_where(turns(segments.bar))
    width = differences(np.concatenate((segments.edges[bar], [segments.edges[-1]])))
    own = bar.searchsorted(first, side="right") - 1
    long = segments.edges[last] - segments.edges[first] >= width[own]
    mark = np.zeros(len(quiet) + 1, dtype=np.int64)
    np.add.at(mark, first[long], 1)
    np.add.at(mark, last[long], -1)
    return np.asarray(mark.cumsum()[:-1] > 0)
