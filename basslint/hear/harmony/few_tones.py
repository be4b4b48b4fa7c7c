"""How sure can a root be that one or two pitch classes stand for?

A fifth may be the outer tones of a triad, or a fourth the root and fifth of the chord above; a
third belongs to two triads, a single tone to six. The chain over chords is as sure of these as of
whole chords where they last. On hand-corrected chords of pop songs (tests/bench, every twelfth
song, with all notes and from G3 up) the root of a bare fifth or fourth was right for .74 of the
time, of another pair for .4, of a single tone for .3.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.sources import Roots
from basslint.util.columns import found_in
from basslint.util.records import replace

_SOUNDS = 0.25  # of an eighth: shorter is spill-over
_FIFTH, _PAIR, _ONE = 0.74, 0.4, 0.3  # the most that such a root is sure of, measured as above
_IS_FIFTH = found_in(np.arange(12), (5, 7))  # semitones between the two, either way round


def doubt_few_tones(
    roots: Roots, sounding: NDArray[np.floating], edges: NDArray[np.int64]
) -> Roots:
    """The roots; one that fewer than three pitch classes stand for is no surer than it is right.

    ``sounding`` [n, 12]: share of each segment in which the harmony sounds each pitch class, there
    or in the bars of its loop; ``edges`` [n + 1] ticks. Stretches in which nothing sounds, filled
    in from their loop, stay as they are. Source: measured, see above.
    """
    if not len(roots):
        return roots
    begin = edges.searchsorted(roots.start)
    last = edges.searchsorted(roots.end)
    most = np.maximum.reduceat(sounding[: last[-1]], begin)
    tones = most >= _SOUNDS
    count = np.add.reduce(tones, axis=1)
    low = tones.argmax(axis=1)
    apart = 11 - tones[:, ::-1].argmax(axis=1) - low
    two = np.where(_IS_FIFTH[apart], _FIFTH, _PAIR)
    cap = np.where(count == 1, _ONE, np.where(count == 2, two, 1.0))
    return replace(roots, certainty=np.minimum(roots.certainty, cap))
