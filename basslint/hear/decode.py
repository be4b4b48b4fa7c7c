"""Which chord sounds where, given that chords last and change on strong places?

A hidden Markov chain over chords (forward-backward, Rabiner 1989). The answer for each segment is
the root with the highest posterior probability, which makes the fewest wrong segments; the
posterior itself is the raw certainty.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LANE = 128  # segments decoded in step with other stretches of the song: short loops, wide arrays
_OVERLAP = 32  # segments of warm-up on both sides of a lane: four bars, longer than chords last


def posterior(evidence: Floats, change: Floats, share: Floats, same: float) -> Floats:
    """Probability of each chord in each segment, [n, 12, q].

    ``evidence`` [n, 12, q]: log-weights. ``change`` [n]: probability that the chord changes where
    the segment begins. ``share`` [q]: quality of a new chord, sum 1. ``same``: probability that a
    change keeps the root (and may change the quality).
    """
    n, roots, kinds = evidence.shape
    lanes = -(-n // _LANE)
    length = _LANE + 2 * _OVERLAP if lanes > 1 else n
    first = np.arange(lanes) * _LANE - (_OVERLAP if lanes > 1 else 0)
    row = first[:, None] + np.arange(length)
    inside = (row >= 0) & (row < n)
    row = np.clip(row, 0, n - 1)
    likely = np.exp(evidence - evidence.max(axis=(1, 2), keepdims=True))
    seen = np.where(inside[:, :, None, None], likely[row], 1.0)  # [lanes, length, 12, q]
    turn = np.where(inside, change[row], 0.5)
    # forward in time and backward in time run side by side: axis 0
    both = np.stack((seen, seen[:, ::-1]))
    # the edge before segment t separates t−1 from t; seen from behind it is met one step earlier
    behind = np.concatenate((np.full((lanes, 1), 0.5), turn[:, :0:-1]), axis=1)
    turns = np.stack((turn, behind))[..., None, None]
    stay = 1.0 - turns
    other = (1.0 - same) / (roots - 1)
    ahead = np.empty_like(both)
    now = np.broadcast_to(share / roots, (2, lanes, roots, kinds))  # at first any chord is likely
    for step in range(length):
        # the last chord goes on, or a new one begins
        root = now.sum(axis=3, keepdims=True)
        fresh = (root * (same - other) + other) * share
        chance = now * stay[:, :, step] + fresh * turns[:, :, step]
        ahead[:, :, step] = chance
        now = chance * both[:, :, step]
        now /= now.sum(axis=(2, 3), keepdims=True)
    # chance before × evidence × chance after, the prior counted once
    joint = ahead[0] * seen * ahead[1, :, ::-1] / share
    joint /= joint.sum(axis=(2, 3), keepdims=True)
    kept = slice(_OVERLAP, _OVERLAP + _LANE) if lanes > 1 else slice(0, n)
    return np.asarray(joint[:, kept].reshape(-1, roots, kinds)[:n])
