"""Was a bass part moved in pitch, in time by beats, or in time by milliseconds?

A line that lies a bar early often fits a fourth away, too, and one that lies a semitone off meets
other chords of its loop. It was moved once: so of shift and displacement the one is told after
which the other parts sound more of it; of equal ones the shift, which asks for no luck of the
chords. A constant lag to the drums is told to milliseconds, which a displacement is not: it goes
before one. Common practice, no source.
"""

from __future__ import annotations

import numpy as np

from basslint.hear.bassline.displacement import Displacements
from basslint.hear.bassline.lag import Lags
from basslint.hear.bassline.shift import ShiftedStretches
from basslint.util.columns import found_in


def one_move(
    shifts: ShiftedStretches, displacements: Displacements, lags: Lags
) -> tuple[ShiftedStretches, Displacements]:
    """Shifts and displacements, of which each part keeps the likeliest one alone."""
    displacements = displacements.only(~found_in(displacements.part, lags.part))
    if not len(shifts.part) or not len(displacements.part):
        return shifts, displacements
    in_time = dict(zip(displacements.part.tolist(), displacements.support.tolist(), strict=True))
    there = np.array([in_time.get(part, -1.0) for part in shifts.part.tolist()])
    shifts = shifts.only(there <= np.where(shifts.whole, shifts.support, -1.0))
    whole = shifts.part[shifts.whole]
    return shifts, displacements.only(~found_in(displacements.part, whole))
