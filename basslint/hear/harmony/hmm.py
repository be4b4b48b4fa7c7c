"""Which chord sounds in each segment, by the posterior of a hidden Markov model?

Chords last, and change on strong positions: a hidden Markov model over chords (forward-backward,
Rabiner 1989). The answer for each segment is the root with the highest posterior probability, which
makes the fewest wrong segments; the posterior itself is the raw certainty.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import chain, repeat

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]  # a chance needs no more digits, and half the bytes go twice as fast

_ROOTS = 12
_WIDER = 4  # columns of a sum of all, beside those of twelve roots
_LANE = 48  # segments decoded in step with other stretches of the song: short loops, wide arrays
_OVERLAP = 16  # segments of warm-up before a lane: two bars; the chances differ by 0.01 at most
_UNKNOWN = 0.5  # chance of a change outside the song, where there is no evidence of any chord
_MOST_LANES = 32  # decoded at once: bounds the memory
_LEAST_STAY = np.float32(1e-7)  # chance that a chord goes on: less is rounding, and divides


def posterior(
    heard: Singles,
    weigh: Callable[[Singles], Singles],
    change: Floats,
    share: Floats,
    same: float,
) -> tuple[Singles, Singles]:
    """Posterior of each root in each segment, [n, 12], and of each chord on the likeliest, [n, q].

    ``heard`` [n, d]: what speaks in each segment. ``weigh`` gives the log-weights of the chords,
    [k, q · 12], by k such rows in any order. ``change`` [n]: probability that the chord changes
    where the segment begins. ``share`` [q]: quality of a new chord, sum 1. ``same``: probability
    that a change keeps the root (and may change the quality).
    """
    n, kinds = len(heard), len(share)
    lane, overlap = (_LANE, _OVERLAP) if n > _LANE + 2 * _OVERLAP else (max(n, 1), 0)
    lanes = -(-n // lane)
    # a lane of no evidence stands before the first and after the last
    change_at = np.full((lanes + 2) * lane + 1, _UNKNOWN, dtype=np.float32)
    change_at[lane : lane + n] = change
    by_root = np.empty((lanes, lane, _ROOTS), dtype=np.float32)
    of_best = np.empty((lanes, lane, kinds), dtype=np.float32)
    once, to_roots = _sums(tuple(share.tolist()))
    row, column = np.arange(lane)[:, None], np.arange(min(lanes, _MOST_LANES))
    for begin in range(0, lanes, _MOST_LANES):
        count = min(_MOST_LANES, lanes - begin)
        likely = _likely(heard, weigh, lane, begin - 1, count + 2)
        ahead = change_at[begin * lane : (begin + count + 2) * lane + 1]
        joint = _forward_backward(likely, ahead, share, same, overlap)
        root = joint @ to_roots
        whole = np.add.reduce(root, axis=2, keepdims=True)
        chord = joint.reshape(lane, count, kinds, _ROOTS)
        best = chord[row, column[:count], :, root.argmax(axis=2)] * once
        by_root[begin : begin + count] = (root / whole).transpose(1, 0, 2)
        of_best[begin : begin + count] = (best / whole).transpose(1, 0, 2)
    return by_root.reshape(-1, _ROOTS)[:n], of_best.reshape(-1, kinds)[:n]


def _likely(
    heard: Singles, weigh: Callable[[Singles], Singles], lane: int, first: int, lanes: int
) -> Singles:
    """Weight of each chord by the evidence, beside the best one, in some lanes from ``first`` on.

    [lane, lanes, q · 12]: what one step asks of all lanes lies side by side. 1 outside the song.
    """
    n = len(heard)
    begin, end = max(first, 0), min(first + lanes, -(-n // lane))  # lanes that hold the song
    row = np.arange(lane)[:, None] + lane * np.arange(begin, end)
    weight = weigh(heard.take(np.minimum(row, n - 1).ravel(), axis=0))
    weight -= np.maximum.reduce(weight, axis=1, keepdims=True)
    likely = np.empty((lane, lanes, weight.shape[1]), dtype=np.float32)
    likely[:, : begin - first] = likely[:, end - first :] = 1.0
    inside = likely[:, begin - first : end - first]
    np.exp(weight.reshape(inside.shape), out=inside)
    inside[n - lane * (end - 1) :, -1] = 1.0  # the song ends before its last lane, or with it
    return likely


def _forward_backward(
    likely: Singles, change_at: Singles, share: Floats, same: float, overlap: int
) -> Singles:
    """Run forward-backward on lanes side by side; the first and the last only lead in.

    Gives the weight of each chord beside the others of its segment, times its ``share``, [lane,
    lanes - 2, q · 12]. ``likely`` [lane, lanes, q · 12]: weight of each chord by the evidence,
    written over.
    ``change_at``: chance of a change at each of their edges, in order of time, one more than there
    are segments.
    """
    lane, lanes, chords = likely.shape
    inner = lanes - 2
    to_sums, to_chords, new, first = _moves(tuple(share.tolist()), same)
    odds = _odds_of_change(change_at, lane, inner, overlap) * new
    # forward in time and backward in time run side by side
    seen_ahead = chain(likely[lane - overlap :, :inner], likely[:, 1:-1])
    seen_behind = chain(likely[:overlap][::-1, 2:], likely[::-1, 1:-1])
    ahead, behind = slice(inner), slice(inner, None)
    now = np.empty((2 * inner, chords), dtype=np.float32)
    now[:] = first
    ahead_now, behind_now = now[ahead], now[behind]
    sums = np.empty((2 * inner, _ROOTS + _WIDER), dtype=np.float32)
    whole, begins = sums[:, _ROOTS : _ROOTS + 1], np.empty_like(sums)
    # chances before what each step sees, of the half of the lane in which each way comes first;
    # those of the warm-up and of the other half are written over each other: memory that is asked
    # for anew costs more than it saves
    half, spare = -(-lane // 2), np.empty_like(now)
    coming = np.empty((half, *now.shape), dtype=np.float32)
    both, forth, back = (  # views made once, not step by step: of few lanes they cost most
        chain(repeat(spare[way], overlap), coming[:, way], repeat(spare[way], lane - half))
        for way in (slice(None), ahead, behind)
    )
    ways = coming.reshape(half, 2, inner, chords)
    met_at = chain(repeat(None, overlap + half), ways[: lane - half][::-1])
    other_way = spare.reshape(2, inner, chords)[::-1]
    steps = enumerate(zip(both, forth, back, met_at, odds, seen_ahead, seen_behind, strict=True))
    multiply, add, divide = np.multiply, np.add, np.divide  # looked up once for all steps
    for step, (chord, to_ahead, to_behind, met, odds_now, evidence_ahead, evidence_behind) in steps:
        now.dot(to_sums, sums)  # of so few rows in fewer calls than `matmul`
        multiply(sums, odds_now, begins)
        begins.dot(to_chords, chord)
        add(chord, now, chord)  # the last chord goes on, or a new one begins
        multiply(to_ahead, evidence_ahead, ahead_now)
        multiply(to_behind, evidence_behind, behind_now)
        if step % 2:  # every other time is often enough for single precision
            divide(now, whole, now)
        if met is not None:  # chance before × chance after, where the other way has been
            multiply(met, other_way, met)
    joint = likely[:, 1:-1]  # times what is seen, which no step asks again: no memory of its own
    joint[:half] *= coming[:, ahead]
    joint[lane - half :] *= coming[::-1, behind]
    return joint


@cache
def _sums(share: tuple[float, ...]) -> tuple[Singles, Singles]:
    """``once`` [q]: the prior of a quality is in both ways and counts once; ``to_roots`` [q · 12,
    12] sums up the chords of each root so."""
    once = (1 / np.array(share)).astype(np.float32)
    each_root = np.eye(_ROOTS, dtype=np.float32)
    return once, (once[:, None, None] * each_root).reshape(-1, _ROOTS)


@cache
def _moves(share: tuple[float, ...], same: float) -> tuple[Singles, Singles, Singles, Singles]:
    """What one step multiplies by, the same in all songs: ``to_sums``, ``to_chords``, ``new``,
    ``first``.

    ``to_sums`` [q · 12, 16] sums the qualities of each root, and all chords in the columns after
    (four, which BLAS takes at once); ``to_chords`` [16, q · 12] gives each quality its share of its
    root, and of any in the row after: products whose other terms are zeros, so that what says the
    same of two roots weighs the same to a digit. ``new`` [16]: a new chord, beside the chance to go
    on, is on any root, and the more on its own. ``first`` [q · 12]: at first any chord is likely.
    """
    kinds, width = len(share), _ROOTS + _WIDER
    each_root, quality = np.eye(_ROOTS, dtype=np.float32), np.array(share, dtype=np.float32)
    to_sums = np.ones((kinds * _ROOTS, width), dtype=np.float32)
    to_sums.reshape(kinds, _ROOTS, -1)[:, :, :_ROOTS] = each_root
    to_chords = np.zeros((width, kinds * _ROOTS), dtype=np.float32)
    to_chords[:_ROOTS] = (each_root[:, None] * quality[:, None]).reshape(_ROOTS, -1)
    to_chords[_ROOTS] = quality.repeat(_ROOTS)
    any_root = (1.0 - same) / (_ROOTS - 1)
    new = np.full(width, any_root, dtype=np.float32)
    new[:_ROOTS] = same - any_root
    return to_sums, to_chords, new, (quality / np.float32(_ROOTS)).repeat(_ROOTS)


def _odds_of_change(change_at: Singles, lane: int, inner: int, overlap: int) -> Singles:
    """Odds that the chord changes, by step and lane, forward lanes first, [steps, 2 · inner, 1].

    The edge before a segment parts it from the one before; seen from behind it is met one step
    earlier.
    """
    odds = np.asarray(change_at / np.maximum(1 - change_at, _LEAST_STAY), dtype=np.float32)
    step, begin = np.arange(lane + overlap)[:, None], lane * np.arange(1, inner + 1)
    ahead, behind = step + (begin - overlap), begin + (lane + overlap) - step
    return odds[np.concatenate((ahead, behind), axis=1)][:, :, None]
