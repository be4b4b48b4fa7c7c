"""What do a loop of sound and the MIDI harmony that plays along with it say together?

Where the loop is sure of a root it is what people hear, and a MIDI part beside it may be no more
than a transcription of it, close and never fully right. Where the loop is unsure, the part helps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import Roots, joined, laid_over
from basslint.util.columns import differences, ends_of, row_at, rows_where
from basslint.util.records import replace

Floats = NDArray[np.float64]


def heard_together(loop: Roots, midi: Roots) -> Roots:
    """``loop`` and ``midi`` as one hearing of the harmony, MIDI alone in the gaps of the loop.

    Where both name one root, it is as sure as the surer of the two says. Where they differ, a loop
    that is at least `CERTAIN` stands, and else the surer one, with the certainty that is left when
    only one of two independent hearings can be right. Where the loop moves from one chord into the
    next, no root is told. Linear in stretches.
    """
    if not len(loop) or not len(midi):
        return laid_over(loop, midi)
    cut = _cut_at(loop, np.concatenate((midi.start, midi.end)))
    under = row_at(midi.start, midi.end, cut.start)
    both = rows_where((under >= 0) & (cut.root >= 0))
    both = both[midi.root[under[both]] >= 0]
    if not len(both):
        return laid_over(loop, midi)
    mine, other = cut.take(both), midi.take(under[both])
    agree = mine.root == other.root
    differ = ~agree & (mine.certainty < CERTAIN)
    given_way = differ & (other.certainty > mine.certainty)
    left = _left(mine.certainty, other.certainty)
    certainty = cut.certainty.copy()
    certainty[both] = np.where(agree, np.maximum(mine.certainty, other.certainty), mine.certainty)
    certainty[both[differ]] = left[differ]
    fit = cut.fit.copy()
    fit[both[agree]] = _fit(mine, other, agree)
    fit[both[differ]] = _fit(mine, other, differ)
    weighed = replace(cut, certainty=certainty, fit=fit)
    rows = both[given_way]
    ours = np.setdiff1d(np.arange(len(cut)), rows)
    theirs = replace(
        midi.take(under[rows]),
        start=cut.start[rows],
        end=cut.end[rows],
        since=np.maximum(midi.since[under[rows]], cut.start[rows]),
        certainty=_left(other.certainty, mine.certainty)[given_way],
        fit=fit[rows],
    )
    both_laid = laid_over(weighed.take(ours), theirs)
    alike = (
        differences(both_laid.certainty) == 0
    )  # a sure half of a stretch is not thinned by the other
    return laid_over(joined(both_laid, alike), midi)


def _left(first: Floats, second: Floats) -> Floats:
    """Chance that the first of two hearings is right where they differ: never more than before."""
    both = 1.0 - first * second  # chance that not both are right, as they cannot be
    return np.asarray(first * (1.0 - second) / np.maximum(both, np.finfo(np.float64).tiny))


def _fit(mine: Roots, other: Roots, rows: NDArray[np.bool_]) -> Floats:
    """How well each pitch class fits as a bass, of both hearings, each as far as it is sure."""
    a, b = mine.certainty[rows, None], other.certainty[rows, None]
    weighed = a * mine.fit[rows] + b * other.fit[rows]
    return np.asarray(weighed / np.maximum(a + b, np.finfo(np.float64).tiny))


def _cut_at(roots: Roots, ticks: NDArray[np.int64]) -> Roots:
    """The same stretches, cut at every one of ``ticks`` that lies inside."""
    at = np.unique(ticks)
    inside = at[row_at(roots.start, roots.end, at) >= 0]
    start = np.unique(np.concatenate((roots.start, inside)))
    row = row_at(roots.start, roots.end, start)
    end = np.minimum(roots.end[row], ends_of(start, np.iinfo(np.int64).max))
    since = np.where(start == roots.start[row], roots.since[row], start)
    return replace(roots.take(row), start=start, end=end, since=since)
