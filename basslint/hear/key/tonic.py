"""Which note of a scale is home? Tells relative major and minor apart, and the church modes.

Relative keys share their seven notes, so the tonic shows in how long the notes and chords last,
where the harmony begins and comes to rest, and in the dominant that leads home.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.theory.scales import MODE_STEPS, MODES
from basslint.util.records import record

Floats = NDArray[np.float64]

HEARD_MODES = tuple(mode for mode in MODES if mode != "locrian")  # on which no song rests
STEP = np.array([MODE_STEPS[mode] for mode in HEARD_MODES])

# Log-odds of home: share of the sounding pitch classes, share of the time as root, the first and
# the last root, the chord on the fifth with a leading note less the same of the other keys.
_SOUND, _ROOT, _FIRST, _LAST, _DOMINANT = 12.0, 4.2, 0.6, 0.4, 8.3
_FIFTH = 7  # semitones
# Where the fours of bars begin, home is heard; a loop that comes round to one chord has it there,
# whatever its other chords say (common practice of loop-based music, no source). The second weight
# counts only above a share that songs with verses and choruses seldom reach.
_FOURS, _LOOP, _LOOPS_FROM = 1.0, 3.0, 0.75
# Major and minor are equally common; the other modes are rare (common practice, no source).
_BIAS = np.array([0.0, 1.2, -1.5, -1.5, -1.5, -1.5])


@record(eq=False, kw_only=True)
class Stretch:
    """What one stretch of a song holds.

    ``sounding`` float [12]: share of each pitch class in the sounding time, sum 1. ``roots`` float
    [12]: share of each chord root, sum 1 or 0. ``leading`` float [12]: share of chords with that
    root and a major third over it. ``first``, ``last``: first and last root, −1 where none.
    ``fours`` float [12]: share of the roots with which fours of bars begin, sum 1 or 0.
    """

    sounding: Floats
    roots: Floats
    leading: Floats
    first: int
    last: int
    fours: Floats


def home_odds(stretch: Stretch, scale: int) -> Floats:
    """Log-odds that each of `HEARD_MODES` of the major scale on ``scale`` is the key, [modes]."""
    tonic = (scale + STEP) % 12
    loop = np.maximum(stretch.fours - _LOOPS_FROM, 0.0) / (1.0 - _LOOPS_FROM)
    return np.asarray(
        _BIAS
        + _SOUND * stretch.sounding[tonic]
        + _ROOT * stretch.roots[tonic]
        + _FIRST * (tonic == stretch.first)
        + _LAST * (tonic == stretch.last)
        + _DOMINANT * stretch.leading[(tonic + _FIFTH) % 12]
        + _FOURS * stretch.fours[tonic]
        + _LOOP * loop[tonic]
    )
