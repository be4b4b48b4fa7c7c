"""Does the line of a bass explain a note of it, so that nobody asks whether it is a slip?"""

from __future__ import annotations

import numpy as np

from basslint.hear.bassline.functions import FUNCTIONS
from basslint.hear.chart import Chart
from basslint.readings.accompaniment import rub_share
from basslint.readings.base import Column, reading
from basslint.readings.notes import felt_beats

_RUBS = 0.5  # share of a note for which it rubs where its place in the line excuses it no more
_PASSES = 0.85  # felt beats: a beat played short; what stands for longer does not pass
# by function: what it explains for however long the note stands
_ALWAYS = np.array([name in ("pedal", "stepwise-line") for name in FUNCTIONS])


@reading("bass-note", unit="yes or no", source="Open Music Theory; common practice")
def explained(chart: Chart) -> Column:
    """Does its line explain it: a pedal, stepwise line, passing or chord tone that does not stand?

    A pedal and a stepwise line always do, and so does what leans or runs out. What passes, leads
    on, or belongs to the chord by name is explained unless it stands for a felt beat and rubs for
    half of it.
    """
    kind, bass = chart.functions, chart.bass
    stands = bass.end - bass.start > _PASSES * felt_beats(chart)
    stands &= rub_share(chart) >= _RUBS
    so = _ALWAYS[kind] | ((kind != FUNCTIONS.index("other")) & ~stands)
    if not so.all():  # else nobody needs to hear where the line leads
        from basslint.readings.approach import leans_or_runs_out

        so |= np.asarray(leans_or_runs_out(chart), dtype=bool)
    return np.asarray(so)
