"""Which bars of the harmony repeat each other, and what do the repeats add?

Beats are loops, and songs repeat their progressions. A bar whose harmony is unclear is heard
together with the bars that sound like it in like surroundings; all of them together have the same
say as the bar itself. (Averaging over self-similar places: non-local means, Buades et al. 2005.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.segments import Segments
from basslint.util.columns import TINY, rows_where

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]  # ample for likenesses and means, and twice as fast

_SHARPNESS = 20.0  # weight e^(−20·distance): a bar alike at 0.9 weighs an eighth of an equal one
_DOUBT = 0.05  # repeats that weigh less than this together hardly count
_LONGEST_LOOP = 16  # bars; longer forms are no loops
_LOOPS = 0.9  # mean likeness of bars one loop apart from which a silent bar may be filled in
_CLEARER = 0.02  # how much more alike a longer loop must be than a shorter one to be preferred
_BLOCK = 512  # bars compared with each other: a whole song, yet linear in its length


def mean_of_repeats(heard: Singles, segments: Segments) -> Singles:
    """Mean of ``heard`` [n, d] over the places that repeat each segment, zero where none does.

    Only bars of the song's commonest meter in which something sounds are compared.
    """
    result = np.zeros(heard.shape, dtype=heard.dtype)
    rows = _bar_rows(segments)
    rows = rows[np.logical_or.reduce(segments.sounds[rows], axis=1)]
    vectors = _bar_vectors(segments, rows)
    for begin in range(0, len(rows), _BLOCK):
        block = rows[begin : begin + _BLOCK]
        weight = _weights(vectors[begin : begin + _BLOCK])
        result[block] = (weight @ heard[block].reshape(len(block), -1)).reshape(*block.shape, -1)
    return result


def nearest_repeat(
    segments: Segments, silent: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], float]:
    """The nearest repeat of each silent segment in the loop, [n] rows, and how far to trust it.

    Trust is how alike the loops are, times the chance that what came back each time comes back once
    more (Laplace's rule of succession over the bars compared). The row is the nearest sounding one
    a whole number of loops away, and the segment's own row where it sounds, no loop was found or
    all of its repeats are silent.
    """
    own = np.arange(len(segments))
    rows = _bar_rows(segments)
    vectors = _bar_vectors(segments, rows)
    plays = np.asarray(segments.sounds[rows].any(axis=1))
    best, likeness, compared = 0, 0.0, 0
    for length in range(1, min(_LONGEST_LOOP, len(rows) // 2) + 1):
        both = plays[:-length] & plays[length:]
        if both.sum() < length:  # the loop has to come round at least once
            continue
        alike = float((vectors[:-length] * vectors[length:]).sum(axis=1)[both].mean())
        if alike > likeness + _CLEARER:
            best, likeness, compared = length, alike, int(both.sum())
    if likeness < _LOOPS:
        return own, 0.0
    # lay the loops under each other: the repeats of a segment stand in one column
    cycles = -(-len(rows) // best)
    row = np.full(cycles * best * rows.shape[1], -1)
    row[: rows.size] = rows.ravel()
    row = row.reshape(cycles, -1)
    sounds = (row >= 0) & ~silent[row]
    cycle = np.arange(cycles)[:, None]
    before = np.maximum.accumulate(np.where(sounds, cycle, -1), axis=0)
    after = np.minimum.accumulate(np.where(sounds, cycle, 2 * cycles)[::-1], axis=0)[::-1]
    near = np.where((before >= 0) & (cycle - before <= after - cycle), before, after)
    use = (row >= 0) & ~sounds & (near < cycles)
    found = own.copy()
    found[row[use]] = np.take_along_axis(row, np.minimum(near, cycles - 1), axis=0)[use]
    return found, likeness * (compared + 1) / (compared + 2)


def _bar_rows(segments: Segments) -> NDArray[np.int64]:
    """Rows of the segments of each bar of the commonest meter, [b, segments in a bar]."""
    size = np.bincount(segments.bar)
    shape = int(np.bincount(size[size > 0]).argmax())
    first = segments.bar.searchsorted(rows_where(size == shape))
    return first[:, None] + np.arange(shape)


def _bar_vectors(segments: Segments, rows: NDArray[np.int64]) -> Singles:
    """What each bar sounds like, [b, d], unit length or zero where it is silent."""
    bars = _blur(segments.sounding).astype(np.float32)[rows].reshape(len(rows), 12 * rows.shape[1])
    size = np.sqrt(np.add.reduce(np.square(bars), axis=1, keepdims=True))
    return np.asarray(bars / np.maximum(size, TINY))


def _weights(unit: Singles) -> Singles:
    """How much each bar [b, d] says about each other one, rows sum to at most 1."""
    alike = unit @ unit.T
    total, count = alike.copy(), np.empty(alike.shape, dtype=alike.dtype)
    count.fill(3.0)
    total[1:, 1:] += alike[:-1, :-1]  # the bars before
    count[0], count[:, 0] = 2.0, 2.0
    total[:-1, :-1] += alike[1:, 1:]  # the bars after
    count[-1], count[:, -1] = 2.0, 2.0
    count[0, -1], count[-1, 0] = 1.0, 1.0
    total /= count
    total -= 1.0
    total *= _SHARPNESS
    weight = np.exp(total, out=total)
    weight.reshape(-1)[:: len(weight) + 1] = 0.0  # no bar repeats itself
    weight /= np.add.reduce(weight, axis=1, keepdims=True) + _DOUBT
    return np.asarray(weight)


def _blur(sounding: Floats) -> Floats:
    """Mean with the neighbouring eighths: a chord a little early or late is the same chord."""
    n = len(sounding)
    total = sounding.copy()
    total[1:] += sounding[:-1]
    total[:-1] += sounding[1:]
    total[1 : n - 1] /= 3.0
    if n > 1:
        total[[0, -1]] /= 2.0
    return total
