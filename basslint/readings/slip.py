"""How likely is a bass note a slip: by itself, or as a figure that returns with its loop?

Two graded tests over named pieces of evidence, each a reading of its own. *The lone note*: nobody
else plays it, it rubs for long, no copy of its bar has it. *The figure*: one pitch class under one
root in three bars or more, judged by the mean of its notes and without their copies, so that
repetition does not pardon what nothing supports. Both are logistic models; their weights stand in
`slip_weights` with the figures that `tests/bench/slips.py` measured when it fitted them on real
songs, as written against faults put in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.accompaniment import (
    heard_near,
    rub_share,
    stands_alone,
    supported,
    tone_in_song,
)
from basslint.readings.approach import leads_home, passes_briefly
from basslint.readings.base import Column, reading, row_reading
from basslint.readings.line import accent
from basslint.readings.notes import length, stand
from basslint.readings.recurrence import (
    copies_alike,
    figures,
    semitone_in_copies,
    usual_place,
)
from basslint.readings.rub_habit import rubs_elsewhere
from basslint.readings.scale_chance import in_scale_chance
from basslint.readings.slip_weights import FIGURE, LONE, Model
from basslint.readings.turns import degree_elsewhere, riff_elsewhere, turns_alike
from basslint.util.records import record

Floats = NDArray[np.float64]

FEWEST_BARS = 3  # in which a figure stands: twice may be chance, three times it came back
_LONGEST = 4.0  # beats: a longer stand is no more of a slip
STAND_BASE = 0.1  # beats added to a stand before its doublings are counted: no note has none
_STAND = [name for name, *_ in FIGURE.weights].index("stand")  # column of the table of figures
_EVEN = 0.5  # chance of being of the scale where no key is told


@record
class Evidence:
    """One piece of evidence: the reading that gives it and how its value enters the models."""

    reading: Callable[[Chart], Column]
    scaled: Callable[[Floats], Floats]


def _as_it_is(value: Floats) -> Floats:
    return value


def _doublings(value: Floats) -> Floats:
    return np.log2(1.0 + value)


# every piece of evidence by the name of its reading; the models name those that they weigh
EVIDENCE: Mapping[str, Evidence] = {
    "supported": Evidence(supported, _as_it_is),
    "heard_near": Evidence(heard_near, _as_it_is),
    "rub_share": Evidence(rub_share, _as_it_is),
    "stands_alone": Evidence(stands_alone, _as_it_is),
    "tone_in_song": Evidence(tone_in_song, lambda v: np.log2(12.0 * v + 0.02)),
    "in_scale_chance": Evidence(in_scale_chance, lambda v: np.where(np.isnan(v), _EVEN, v)),
    "copies_alike": Evidence(copies_alike, _doublings),
    "semitone_in_copies": Evidence(semitone_in_copies, _as_it_is),
    "stand": Evidence(stand, lambda v: np.log2(np.minimum(v, _LONGEST) + STAND_BASE)),
    "accent": Evidence(accent, _as_it_is),
    "rubs_elsewhere": Evidence(rubs_elsewhere, _doublings),
    "passes_briefly": Evidence(passes_briefly, _as_it_is),
    "leads_home": Evidence(leads_home, _as_it_is),
    "turns_alike": Evidence(turns_alike, _doublings),
    "riff_elsewhere": Evidence(riff_elsewhere, _doublings),
    "degree_elsewhere": Evidence(degree_elsewhere, _doublings),
    "usual_place": Evidence(usual_place, lambda v: np.where(np.isnan(v), 1.0, v)),
}


@reading("bass-note", unit="share", source="fitted, see readings/slip_weights.py")
def slip_chance(chart: Chart) -> Column:
    """How likely it is a slip that stands alone, all evidence weighed, 0 to 1."""
    return chance(LONE, lone_evidence(chart))


@row_reading("bass-note", unit="share", source="fitted, see readings/slip_weights.py")
def figure_slip_chance(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """How likely the figure it belongs to is a slip pasted with its loop; 0 below three bars."""
    return figure_chance_of(chart, rows)


def figure_chance_of(chart: Chart, rows: NDArray[np.intp]) -> Floats:
    """`figure_slip_chance` of some bass notes; where none comes back, no evidence is heard."""
    found = figures(chart)
    of = found.of[rows]
    again = np.append(found.bars, 0)[of] >= FEWEST_BARS  # −1, no figure: the last one
    if not np.count_nonzero(again):
        return np.zeros(len(rows))
    return np.where(again, np.append(_figure_chances(chart), 0.0)[of], 0.0)


@once_per_chart
def _figure_chances(chart: Chart) -> Floats:
    return chance(FIGURE, figure_evidence(chart))


@reading("bass-note", unit="number")
def figure(chart: Chart) -> Column:
    """The figure it belongs to, numbered: its pitch class under this root in its part; −1 none."""
    return figures(chart).of.astype(np.float64)


@once_per_chart
def lone_evidence(chart: Chart) -> Floats:
    """Evidence for the lone note as it enters its model, [m, evidence of `LONE`]."""
    return _side_by_side([_scaled(chart, name) for name, *_ in LONE.weights])


@once_per_chart
def figure_evidence(chart: Chart) -> Floats:
    """Evidence for each figure as it enters its model, [f, evidence of `FIGURE`].

    The mean over its notes, each weighing as long as it lasts, up to four beats; of `stand` the
    longest, since that is where a figure is heard to rest.
    """
    found = figures(chart)
    known = found.of >= 0
    rows = slice(None) if known.all() else known.nonzero()[0]
    of, count = found.of[rows], len(found.bars)
    weight = np.minimum(length(chart)[rows], _LONGEST) + 1e-6
    whole = np.maximum(np.bincount(of, weights=weight, minlength=count), 1e-9)
    evidence = _side_by_side([_scaled(chart, name)[rows] for name, *_ in FIGURE.weights])
    kinds = evidence.shape[1]
    # one sum for each figure and piece of evidence, all of them in one go
    cell = (of[:, None] * kinds + np.arange(kinds)).ravel()
    weighed = (weight[:, None] * evidence).ravel()
    sums = np.bincount(cell, weights=weighed, minlength=count * kinds).reshape(count, kinds)
    means: Floats = sums / whole[:, None]
    most = np.full(count, -np.inf)
    np.maximum.at(most, of, evidence[:, _STAND])
    means[:, _STAND] = most
    return means


def chance(model: Model, evidence: Floats) -> Floats:
    """The chance of a slip that a model gives to rows of evidence, [n] of 0 to 1."""
    odds = model.intercept + evidence @ np.array([weight for _, weight, _ in model.weights])
    return np.asarray(1.0 / (1.0 + np.exp(-np.minimum(np.maximum(odds, -40.0), 40.0))))


def _scaled(chart: Chart, name: str) -> Floats:
    """A piece of evidence of all bass notes as it enters the models, [m]."""
    piece = EVIDENCE[name]
    return np.asarray(piece.scaled(np.asarray(piece.reading(chart), dtype=np.float64)))


def _side_by_side(columns: Sequence[Floats]) -> Floats:
    """Some columns [n] as one table [n, columns], row by row (`np.column_stack` asks more)."""
    return np.array(columns).T.copy()
