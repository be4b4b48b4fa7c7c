"""Does a bass else rub as it does here: a walk's approach notes, a boogie's blue ones?

A bass that plays foreign tones against the harmony again and again means them. A note is judged by
the habits of its part without its own kind, its pitch class under its root, so that a slip pasted
with its loop makes no habit of itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.accompaniment import rub_share, stands_alone, supported
from basslint.readings.base import Column, reading
from basslint.readings.notes import stand
from basslint.readings.recurrence import root_of_chord, tones
from basslint.util.columns import distinct, found_in

_HARDLY = 0.3  # share of a note: others play its pitch class for less, or rub with it for more
_LONG = 0.3  # beats: what stands for less is a grace
_KINDS = 13 * 12  # of a tone under a root, or under none


@reading("bass-note", unit="kinds", source="Open Music Theory: non-chord tones")
def rubs_elsewhere(chart: Chart) -> Column:
    """How many kinds of other foreign tones its part lets rub: pairs of a tone and a chord's root.

    A foreign tone is one that no other part plays with it. Its own kind does not count.
    """
    return kinds_elsewhere(chart, foreign_rubs(chart))


@once_per_chart
def foreign_rubs(chart: Chart) -> NDArray[np.bool_]:
    """Bass notes that others sound with, but do not play, and that rub against them, [m]."""
    foreign = (supported(chart) < _HARDLY) & ~np.asarray(stands_alone(chart), dtype=bool)
    return np.asarray(foreign & (rub_share(chart) >= _HARDLY) & (stand(chart) >= _LONG))


def kinds_elsewhere(chart: Chart, rubbing: NDArray[np.bool_]) -> Column:
    """`rubs_elsewhere` where ``rubbing`` [m] says which notes rub."""
    part, kind = chart.bass.part.astype(np.int64), _kind(chart)
    rubbing_kinds = distinct((part * _KINDS + kind)[rubbing])
    count = np.bincount(rubbing_kinds // _KINDS, minlength=int(part.max(initial=0)) + 1)
    return np.asarray(count[part] - found_in(part * _KINDS + kind, rubbing_kinds), dtype=np.float64)


def _kind(chart: Chart) -> NDArray[np.int64]:
    """A number for the pitch class of each bass note and the root of its chord, [m]."""
    return np.asarray((root_of_chord(chart) + 1) * 12 + tones(chart))
