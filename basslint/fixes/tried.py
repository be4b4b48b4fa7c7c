"""Would a bass note at another pitch fit in with the other parts? Asked before a fix is offered.

What the pages rubs-with-harmony and two-basses would say of the note once it is moved, and did not
say before, is no honest fix.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.util.columns import found_in

_RUB = 1.0  # beats, as the page rubs-with-harmony has it: a shorter rub passes
_TWO = 0.5  # beats, as the page two-basses has it: a shorter meeting is a hand-over


def fits_in(chart: Chart, row: int, tone: int, is_root: bool = False) -> bool:
    """Whether bass note ``row`` meets the other parts no worse on pitch class ``tone``.

    The root of its chord (``is_root``) rubs against no tone of the harmony that is not meant to.
    """
    now = int(chart.bass.pitch[row]) % 12
    limits = [(_basses(chart, row), tuple(range(1, 12)), _TWO)]
    if not is_root:
        limits.append((_upper(chart), (1, 11), _RUB))
    for others, apart, most in limits:
        then = _longest(chart, row, others, tone, apart)
        if then > most and then > _longest(chart, row, others, now, apart):
            return False
    return True


@once_per_chart
def _upper(chart: Chart) -> NDArray[np.intp]:
    """Rows of song.notes of the harmony and the tunes."""
    roles = [i for i, role in enumerate(chart.parts.role) if role in ("harmony", "melody")]
    return chart.song.rows_of(roles)


def _basses(chart: Chart, row: int) -> NDArray[np.intp]:
    """Rows of song.notes of the bass parts that are another instrument than a bass note's."""
    return _other_basses(chart)[int(chart.bass.part[row])]


@once_per_chart
def _other_basses(chart: Chart) -> dict[int, NDArray[np.intp]]:
    """The same for each bass part."""
    group, parts = chart.parts.group, chart.parts.bass
    return {
        mine: chart.song.rows_of([p for p in parts if group[p] != group[mine]]) for mine in parts
    }


def _longest(
    chart: Chart, row: int, others: NDArray[np.intp], tone: int, apart: tuple[int, ...]
) -> float:
    """Beats of the longest meeting with a note so many semitones above ``tone``, octaves off."""
    if not len(others):
        return 0.0
    start, end = int(chart.bass.start[row]), int(chart.bass.end[row])
    notes = chart.notes
    near = others[: np.searchsorted(notes.start[others], end)]
    met = found_in((notes.pitch[near] - tone) % 12, apart) & (notes.end[near] > start)
    near = near[met]
    shared = np.minimum(notes.end[near], end) - np.maximum(notes.start[near], start)
    grid = chart.song.grid
    unit = 4 * grid.division / int(grid.denominator[grid.bar_of(start)])
    return float(shared.max(initial=0)) / unit
