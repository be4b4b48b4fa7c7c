"""Which chord sounds where, given that chords last and change on strong places?

A hidden Markov chain over chords (forward-backward, Rabiner 1989). The answer for each segment is
the root with the highest posterior probability, which makes the fewest wrong segments; the
posterior itself is the raw certainty.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]  # a chance needs no more digits, and half the bytes go twice as fast

_LANE = 48  # segments decoded in step with other stretches of the song: short loops, wide arrays
_OVERLAP = 16  # segments of warm-up on both sides of a lane: two bars; the chances differ by < 1e-4
_MOST_LANES = 32  # decoded at once: bounds the memory


def posterior(evidence: Floats | Singles, change: Floats, share: Floats, same: float) -> Floats:
    """Probability of each chord in each segment, [n, 12, q].

    ``evidence`` [n, 12, q]: log-weights. ``change`` [n]: probability that the chord changes where
    the segment begins. ``share`` [q]: quality of a new chord, sum 1. ``same``: probability that a
    change keeps the root (and may change the quality).
    """
    n, roots, kinds = evidence.shape
    # qualities first, so that sums over them run along memory; the last row stands for no evidence
    likely = np.ones((kinds, n + 1, roots), dtype=np.float32)
    flat = evidence.reshape(n, -1)
    weight = np.exp((flat - flat.max(axis=1, keepdims=True)).astype(np.float32, copy=False))
    likely[:, :n] = weight.reshape(n, roots, kinds).transpose(2, 0, 1)
    turn = np.append(change, 0.5).astype(np.float32)
    chance = np.empty((kinds, n, roots))
    if n <= _LANE + 2 * _OVERLAP:
        _decode(likely, turn, share, same, np.arange(n)[:, None], slice(0, n), chance)
    else:
        step = np.arange(-_OVERLAP, _LANE + _OVERLAP)[:, None]
        kept = slice(_OVERLAP, _OVERLAP + _LANE)
        for begin in range(0, n, _LANE * _MOST_LANES):
            row = step + np.arange(begin, min(begin + _LANE * _MOST_LANES, n), _LANE)
            row[(row < 0) | (row > n)] = n
            _decode(likely, turn, share, same, row, kept, chance)
    return chance.transpose(1, 2, 0)


def _decode(
    likely: Singles,
    turn: Singles,
    share: Floats,
    same: float,
    row: NDArray[np.int64],
    kept: slice,
    chance: Floats,
) -> None:
    """Decode lanes side by side: ``row`` [steps, lanes] are their segments.

    Writes what is found in the steps ``kept`` into ``chance`` [q, n, 12].
    """
    steps, lanes = row.shape
    kinds, _, roots = likely.shape
    quality = share.astype(np.float32)[:, None, None]
    other = np.float32((1.0 - same) / (roots - 1))
    again = np.float32(same) - other
    # forward in time and backward in time run side by side
    both = np.concatenate((row, row[::-1]), axis=1)
    # the edge before segment t separates t−1 from t; seen from behind it is met one step earlier
    turns = turn[both]
    turns[1:, lanes:] = turn[row[:0:-1]]
    turns[0, lanes:] = 0.5
    turns = turns[:, :, None]
    ahead = np.empty((steps, kinds, 2 * lanes, roots), dtype=np.float32)
    seen = np.empty((kinds, 2 * lanes, roots), dtype=np.float32)
    now = np.empty_like(seen)
    now[:] = quality / np.float32(roots)  # at first any chord is likely
    for step in range(steps):
        # the last chord goes on, or a new one begins
        root = np.add.reduce(now, axis=0)
        whole = np.add.reduce(root, axis=1, keepdims=True)
        next_turn = turns[step]
        fresh = root * (again * next_turn / whole) + other * next_turn
        chord = ahead[step]
        np.multiply(quality, fresh, out=chord)
        np.multiply(now, (1 - next_turn) / whole, out=seen)
        chord += seen
        np.take(likely, both[step], axis=1, out=seen, mode="clip")
        np.multiply(chord, seen, out=now)
    # chance before × evidence × chance after, the prior counted once
    target = row[kept]
    inside = target < likely.shape[1] - 1
    found = ahead[kept, :, :lanes] * ahead[::-1][kept, :, lanes:]
    joint = found.transpose(1, 0, 2, 3)[:, inside] * likely[:, target[inside]] / quality
    joint /= np.add.reduce(np.add.reduce(joint, axis=0), axis=1)[:, None]
    chance[:, target[inside]] = joint
