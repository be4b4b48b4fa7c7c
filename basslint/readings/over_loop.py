"""Under which bass notes does a loop of sound not say enough to judge them?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP
from basslint.readings.accompaniment import rub_share, supported
from basslint.readings.recurrence import copies_otherwise

Bools = NDArray[np.bool_]

_LACKS, _HAS = 0.1, 0.5  # chance that a loop sounds a pitch class: hardly, likely


def over_loop(chart: Chart) -> tuple[Bools, Bools]:
    """Whether the loop's chord is not clear enough, and whether it moves, under each bass note.

    Whatever the chord is called, a note that surely does not sound in the loop may be judged where
    its neighbour does, or where the bass has another note there in all other copies. bool [m] each.
    """
    is_loop = np.append(chart.roots.source == LOOP, False)  # −1, no chord: the last one
    chord, of_loop = np.maximum(chart.bass_chords, 0), is_loop[chart.bass_chords]
    unclear = of_loop & (np.append(chart.roots.certainty, 1.0)[chord] < CERTAIN)
    denied = (rub_share(chart) >= _HAS) | (copies_otherwise(chart) > 0)
    unclear &= (supported(chart) > _LACKS) | ~denied
    return unclear, of_loop & (np.append(chart.roots.root, 0)[chord] < 0)
