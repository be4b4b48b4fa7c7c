"""How well would a phrase begin at this bar, and how well would these bars make a phrase?

Every cue has one weight. The weights are those of a semi-Markov conditional random field (Sarawagi
and Cohen 2004, "Semi-Markov conditional random fields for information extraction"), fitted by
maximum likelihood on phrases that people had marked in pop songs (melody and chords), and rounded.
`MIXED_BACKING` and what a fuller arrangement takes from the lead could not be fitted on those; they
follow common practice, no source. `INNER_REPEAT` is twice its fit: the loops of beats go in fours
and eights.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.form.bars import SLOTS, Bars, Floats, Singles
from basslint.util.columns import windows

LONGEST = 16  # bars; longer phrases are sections of several
_GROUP = 4  # bars: the four-bar group in which songs repeat, and the reach of what is around a bar
_POWER = 4  # of a similarity: leaves only what is nearly the same
_ALIKE = 0.3  # fourth power of a similarity of .74, below which bars are not the same
_AT_RANDOM = 0.3  # similarity of two bars of a song at random, about
_USUAL_S, _LEAST_S = 2.0, 0.1  # seconds a bar at 120 bpm; no bar is shorter

# Cues of a bar where a phrase would begin.
GAP_RATIO = -1.1  # doubling of the wait before the lead's onset there: notes amid others begin none
GAP_PEAK = 2.4  # a bar more of waiting than at the bars beside it: the lead breathes here
BUSY = -2.5  # onsets per 16th just before: phrases end on long notes
WITHOUT_LEAD = -2.2  # the lead's three cues where a song has none: their mean at phrase starts
REPEAT_ENDS = 0.4  # four bars were heard elsewhere and go on differently here
TWINS = 3.3  # likelier than around here to begin where the same bars come again
TWINS_BACKING = 2.2  # ... where the same harmony, bass and drums do
# Cues of the bars that would make a phrase.
FOUR, EIGHT = 1.5, 1.9  # nothing is as usual as four and eight bars
LONG = 0.8  # twelve and sixteen
ONE_MORE = 0.8  # five and nine: a bar is put in before the next phrase
SLOW = 0.8  # doubling of a 2 s bar: four and eight are the rule at slow tempo, less so at fast
INTRO = 6.5  # four bars (eight at most) of a start without lead, times that share: one phrase
MIXED = -3.5  # a bar with the lead among bars without, or the other way round
MIXED_BACKING = -1.75  # the same of harmony, bass or drums: half, they change inside phrases too
NO_LEAD = -4.1  # a phrase without lead, times the share of bars that have it
AGAIN = 0.9  # four bars that come again as a whole
AGAIN_ALONE = 1.1  # ... while the bars around them do not: the repeat has these very ends
INNER_REPEAT = -0.6  # four bars that come again within: two phrases then, not one

_CELLS = 1 << 13  # in a table that is still written and read in the fastest memory
_LENGTH = np.arange(1.0, LONGEST + 1)  # bars of a phrase
_USUAL = np.zeros(LONGEST)  # score of each length
_USUAL[[4 - 1, 8 - 1]] = FOUR, EIGHT
_USUAL[[12 - 1, 16 - 1]] = LONG
_USUAL[[5 - 1, 9 - 1]] = ONE_MORE
_HALVED = (-_LENGTH / 2.0).astype(np.float32)[:, None]
_FOURS = (_LENGTH == 4) | (_LENGTH == 8)
_INTROS = np.minimum(_LENGTH / _GROUP, 2.0)


def repeats(similarity: Singles) -> Singles:
    """How alike the four bars from each bar on and from each other bar on are, 0..1.

    ``similarity`` [..., m, m] from `Similarity.matrices`, one or more; the answer, in its shape, is
    zero for bars less than two apart. The fourth power leaves only what is nearly the same.
    """
    size = similarity.shape[-1]
    same = np.zeros(similarity.shape, dtype=np.float32)
    for k in range(min(_GROUP, size)):
        begun = same[..., : size - k, : size - k]
        begun += similarity[..., k:, k:]
    same /= _GROUP
    for _ in range(2):  # its fourth power
        np.square(same, out=same)
    same *= same >= _ALIKE
    _fill_near(same, 2, 0.0)
    return same


def _fill_near(square: Singles, apart: int, value: float) -> None:
    """Write ``value`` wherever row and column are less than ``apart`` from each other."""
    size = square.shape[-1]
    cells = square.reshape(*square.shape[:-2], -1)
    for k in range(min(apart, size)):
        cells[..., k * size :: size + 1] = value
        cells[..., k : (size - k) * size : size + 1] = value


def twins(same: Singles, chance: Floats) -> Floats:
    """How much likelier than the bars around it a bar's twins are to begin phrases, [..., m].

    ``same`` [..., m, m] from `repeats`, ``chance`` [m] how likely each bar begins a phrase. One
    twin more that begins none is added: few twins are weak witnesses.
    """
    mean = same @ chance / (np.add.reduce(same, axis=-1) + 1.0)
    size = len(chance)
    total = np.zeros((*mean.shape[:-1], size + 1))
    mean.cumsum(axis=-1, out=total[..., 1:])
    row = np.arange(size)
    left, right = np.maximum(row - _GROUP, 0), np.minimum(row + _GROUP + 1, size)
    return np.asarray(mean - (total[..., right] - total[..., left]) / (right - left))


def starts(bars: Bars, begin: int, similarity: Singles) -> Floats:
    """Score of a phrase beginning at each bar of a stretch from ``begin`` on, [m]."""
    size = len(similarity)
    ends = np.zeros(similarity.shape, dtype=np.float32)
    for k in range(1, min(_GROUP + 1, size)):
        ended = ends[k:, k:]
        ended += similarity[: size - k, : size - k]
    ends /= _GROUP
    ends -= similarity
    _fill_near(ends, 2, 0.0)
    again = REPEAT_ENDS * np.maximum(np.maximum.reduce(ends, axis=1), 0.0)
    if bars.lead is None:
        return np.asarray(WITHOUT_LEAD + again)
    gap = bars.gap[begin : begin + size]
    beside = np.empty(size + 2)
    beside[1:-1], beside[0], beside[-1] = gap, gap[0], gap[-1]
    peak = gap - (beside[:-2] + beside[2:]) / 2.0
    ratio = np.log2(np.maximum(gap * SLOTS, 1.0))
    busy = bars.busy[begin : begin + size]
    return np.asarray(GAP_RATIO * ratio + GAP_PEAK * peak + BUSY * busy + again)


def phrases(bars: Bars, begin: int, similarity: Singles) -> Floats:
    """Score of a phrase of 1..LONGEST bars from each bar of a stretch on, [m, LONGEST].

    Phrases that would pass the end of the stretch get scores too; the decoder must not use them.
    """
    size = len(similarity)
    slow = np.log2(np.maximum(bars.seconds[begin : begin + size], _LEAST_S) / _USUAL_S)
    score = _USUAL + SLOW * slow[:, None] * _FOURS
    active = bars.backing[begin : begin + size]
    if bars.lead is not None:
        active = np.concatenate((bars.lead[begin : begin + size, None], active), axis=1)
    share = _share(active)
    mixed = np.minimum(share, 1.0 - share)
    if bars.lead is not None:
        # in a fuller arrangement than lead and harmony one line's comings and goings say less
        among = 2.0 / (1.0 + max(bars.backing.shape[1], 1))
        score += MIXED * among * mixed[0] * _LENGTH
        # where the lead is rare, its absence says little
        usually = np.count_nonzero(bars.lead) / len(bars.lead)
        without = share[0] == 0.0
        score += NO_LEAD * usually * without
        if begin == 0:
            score[0] += INTRO * usually * _INTROS * without[0]
        mixed = mixed[1:]
    for cost in MIXED_BACKING * mixed * _LENGTH:
        score += cost
    return np.asarray(score + _repetition(similarity))


def _share(active: NDArray[np.bool_]) -> Floats:
    """Share of active bars in 1..LONGEST bars from each bar on, [columns, m, LONGEST].

    ``active`` [m, columns].
    """
    size, columns = active.shape
    total = np.zeros((columns, size + LONGEST))
    np.add.accumulate(active.T, axis=1, out=total[:, 1 : size + 1])
    total[:, size + 1 :] = total[:, size, None]
    until = windows(total, LONGEST + 1)
    return np.asarray((until[:, :, 1:] - until[:, :, :1]) / _LENGTH)


def _repetition(similarity: Singles) -> Floats:
    """Score of what comes again, as a whole elsewhere or inside, [m, LONGEST]."""
    size = len(similarity)
    again, alone = _again(similarity)
    # sums over the phrase: a fourth of them is the mean, times the phrase's length in fours
    score = (AGAIN / _GROUP * again + AGAIN_ALONE / _GROUP * alone).astype(np.float64)
    if size > _GROUP:
        last = size - _GROUP  # bars have four after them in the stretch
        inner = np.zeros(size + LONGEST)
        (similarity.diagonal(_GROUP).astype(np.float64) ** _POWER).cumsum(out=inner[1 : last + 1])
        until = windows(inner, LONGEST - _GROUP + 1)[:last]
        within = until[:, 1:] - until[:, :1]
        within[np.arange(1, LONGEST - _GROUP + 1) > np.arange(last, 0, -1)[:, None]] = 0.0
        score[:last, _GROUP:] += INNER_REPEAT * within / _GROUP
    return score


def _again(similarity: Singles) -> tuple[Singles, Singles]:
    """How alike the bars of each phrase are to the likest elsewhere, summed, [m, LONGEST], and the
    same less how alike the bars around the two are; 0 where nothing comes again."""
    size = len(similarity)
    width, longest = size + 2, min(LONGEST, size - 1)
    cells, step = width * width, width + 1  # so many cells on is a bar further on in row and column
    # with an edge around: there nothing is alike, or as two bars at random
    inside, edged = squares = np.empty((2, cells + (longest + 1) * step), dtype=np.float32)
    inside.fill(-np.inf)
    edged.fill(_AT_RANDOM)
    squares[:, :cells].reshape(2, width, width)[:, 1:-1, 1:-1] = similarity
    # whole tables are taken as they lie in memory, and what spills over into the next row has
    # passed the edge: [bars further on, cells]
    shape, strides = (longest + 2, cells), (step * inside.itemsize, inside.itemsize)
    here, around = (np.ndarray(shape, np.float32, square, 0, strides) for square in squares)
    best = np.zeros((LONGEST, 2, size), dtype=np.float32)  # of what comes again, and alone
    many = max(min(_CELLS // cells, longest), 1)  # lengths at once: few calls for short songs
    tables = np.empty((many, 2, cells), dtype=np.float32)
    run = np.zeros(1, dtype=np.float32)  # of the phrases one bar shorter
    for first in range(0, longest, many):
        last = min(first + many, longest)
        runs, beside = tables[: last - first].transpose(1, 0, 2)
        for k in range(first, last):
            shorter, run = run, runs[k - first]
            np.add(shorter, here[k + 1], out=run)
            # phrases that overlap are no repeat; what is ruled out stays so for longer ones
            run[k * width :: step] = -np.inf
            run[k : (width - k) * width : step] = -np.inf
        np.add(around[0], around[first + 2 : last + 2], out=beside)
        beside *= _HALVED[first:last]
        beside += runs
        squared = tables[: last - first].reshape(-1, 2, width, width)[:, :, :size, :size]
        # both are symmetric: the maximum of a row is that of its column, which NumPy finds faster
        np.maximum.reduce(squared, axis=2, out=best[first:last])
    again, alone = np.maximum(best, 0.0, out=best).transpose(1, 2, 0)
    return again, alone
