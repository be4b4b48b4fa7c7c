"""Which positions of the bar carry metrical accents, as the harmony plays them?

The file states where bars begin. An export with a pickup, or a recording laid onto a grid, may
begin anywhere, so the harmony is asked too: on strong places chords turn and low notes are struck.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.segments import Segments

_TRUST = 0.1  # how much more turning another place must show before the stated one is overruled
_LOW_NOTE = 0.5  # say of a low note struck, against a full change of the pitch classes


def metrical_accents(segments: Segments) -> NDArray[np.int8]:
    """Metrical accent of each segment, [n]: that of the bars, shifted to where the harmony changes.

    The shift is the number of eighths by which the harmony is out of step with the bars of the
    file.
    """
    size = np.bincount(segments.bar)
    shape = int(np.bincount(size[size > 0]).argmax())
    rows = size[segments.bar] == shape
    first = segments.bar.searchsorted(np.arange(len(size)))
    place = np.arange(len(segments)) - first[segments.bar]
    turning = segments.harmonic_change + _LOW_NOTE * segments.attack * segments.depth
    bars = np.count_nonzero(rows) / shape
    strength = np.bincount(place[rows], turning[rows], minlength=shape) / bars
    strength[0] += _TRUST
    shift = int(strength.argmax())
    pattern = np.zeros(shape, dtype=np.int8)
    pattern[place[rows]] = segments.accent[rows]
    return np.where(rows, pattern[(place - shift) % shape], segments.accent)
