"""Would a bass note at another pitch fit in with the other parts? Asked before a fix is offered.

What the pages rubs-with-harmony and two-basses would say of the note once it is moved, and did not
say before, is no honest fix.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.util.columns import found_in
from basslint.util.records import record

LONGEST_RUB = 1.0  # beats, as the page rubs-with-harmony has it: a shorter rub passes
LONGEST_MEETING = 0.5  # beats, as the page two-basses has it: a shorter one is a hand-over
# by semitones up, octaves off: do two basses differ there, does a note rub there?
_DIFFERS = np.arange(12) > 0
_RUBS = found_in(np.arange(12), (1, 11))


def fits_in(chart: Chart, row: int, tone: int, is_root: bool = False) -> bool:
    """Whether bass note ``row`` meets the other parts no worse on pitch class ``tone``.

    The root of its chord (``is_root``) rubs against no tone of the harmony that is not meant to.
    """
    now = int(chart.bass.pitch[row]) % 12
    limits = [(_basses(chart, row), _DIFFERS, LONGEST_MEETING)]
    if not is_root:
        limits.append((_upper(chart), _RUBS, LONGEST_RUB))
    for others, apart, most in limits:
        then = _longest(chart, row, others, tone, apart)
        if then > most and then > _longest(chart, row, others, now, apart):
            return False
    return True


@record(eq=False)
class _Others:
    """Notes that a bass note may meet, columns [n] in order of time.

    ``reach``: the latest end so far, so that a note's neighbours are found without a look at all.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int16]
    reach: NDArray[np.int64]


def _others(chart: Chart, parts: Sequence[int]) -> _Others:
    notes = chart.notes.take(chart.song.rows_of(parts))
    return _Others(notes.start, notes.end, notes.pitch, np.maximum.accumulate(notes.end))


@once_per_chart
def _upper(chart: Chart) -> _Others:
    """The harmony and the tunes."""
    roles = [i for i, role in enumerate(chart.parts.role) if role in ("harmony", "melody")]
    return _others(chart, roles)


def _basses(chart: Chart, row: int) -> _Others:
    """The bass parts that are another instrument than a bass note's."""
    return _other_basses(chart)[int(chart.bass.part[row])]


@once_per_chart
def _other_basses(chart: Chart) -> dict[int, _Others]:
    """The same for each bass part."""
    group, parts = chart.parts.group, chart.parts.bass
    return {mine: _others(chart, [p for p in parts if group[p] != group[mine]]) for mine in parts}


def _longest(chart: Chart, row: int, others: _Others, tone: int, apart: NDArray[np.bool_]) -> float:
    """Beats of the longest meeting with a note that lies so far above ``tone``, octaves off.

    ``apart`` [12]: whether so many semitones count.
    """
    if not len(others.start):
        return 0.0
    start, end = int(chart.bass.start[row]), int(chart.bass.end[row])
    first = others.reach.searchsorted(start, side="right")
    near = slice(int(first), int(others.start.searchsorted(end)))
    until = others.end[near]
    met = apart[(others.pitch[near] - tone) % 12] & (until > start)
    if not met.any():
        return 0.0
    shared = np.minimum(until[met], end) - np.maximum(others.start[near][met], start)
    unit = chart.song.grid.beat_ticks(chart.bass.start[row : row + 1])
    return float(shared.max(initial=0) / unit[0])
