"""Which chord sounds in each segment, by the posterior of a hidden Markov model?

Chords last, and change on strong positions: a hidden Markov model over chords (forward-backward,
Rabiner 1989). The answer for each segment is the root with the highest posterior probability, which
makes the fewest wrong segments; the posterior itself is the raw certainty.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]  # a chance needs no more digits, and half the bytes go twice as fast

_ROOTS = 12
_LANE = 48  # segments decoded in step with other stretches of the song: short loops, wide arrays
_OVERLAP = 16  # segments of warm-up before a lane: two bars; the chances differ by 0.01 at most
_UNKNOWN = 0.5  # chance of a change outside the song, where there is no evidence of any chord
_MOST_LANES = 32  # decoded at once: bounds the memory


def posterior(
    heard: Singles,
    weigh: Callable[[Singles], Singles],
    change: Floats,
    share: Floats,
    same: float,
) -> tuple[Singles, Singles]:
    """Posterior of each root in each segment, [n, 12], and of each chord on the likeliest, [n, q].

    ``heard`` [n, d]: what speaks in each segment. ``weigh`` gives the log-weights of the chords,
    [q, 12, k], by k such rows in any order. ``change`` [n]: probability that the chord changes
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
    row, column = np.arange(lane)[:, None], np.arange(min(lanes, _MOST_LANES))
    for begin in range(0, lanes, _MOST_LANES):
        count = min(_MOST_LANES, lanes - begin)
        likely = _likely(heard, weigh, lane, begin - 1, count + 2)
        ahead = change_at[begin * lane : (begin + count + 2) * lane + 1]
        joint = _forward_backward(likely, ahead, share, same, overlap)
        root = np.add.reduce(joint, axis=1)
        whole = np.add.reduce(root, axis=1)
        best = joint[row, :, root.argmax(axis=1), column[:count]]
        by_root[begin : begin + count] = (root / whole[:, None]).transpose(2, 0, 1)
        of_best[begin : begin + count] = (best / whole[:, :, None]).transpose(1, 0, 2)
    return by_root.reshape(-1, _ROOTS)[:n], of_best.reshape(-1, kinds)[:n]


def _likely(
    heard: Singles, weigh: Callable[[Singles], Singles], lane: int, first: int, lanes: int
) -> Singles:
    """Weight of each chord by the evidence, beside the best one, in some lanes from ``first`` on.

    [lane, q, 12, lanes]: what one step asks of all lanes lies side by side. 1 outside the song.
    """
    row = (np.arange(lane)[:, None] + lane * np.arange(first, first + lanes)).ravel()
    inside = np.clip(row, 0, len(heard) - 1)
    weight = weigh(heard.take(inside, axis=0))
    weight -= weight.max(axis=(0, 1))
    np.exp(weight, out=weight)
    weight[:, :, row != inside] = 1.0
    by_chord = weight.reshape(*weight.shape[:2], lane, lanes)
    return np.ascontiguousarray(by_chord.transpose(2, 0, 1, 3))


def _forward_backward(
    likely: Singles, change_at: Singles, share: Floats, same: float, overlap: int
) -> Singles:
    """Run forward-backward on lanes side by side; the first and the last only lead in.

    Gives the weight of each chord beside the others of its segment, [lane, q, 12, lanes].
    ``likely`` [lane, q, 12, lanes]: weight of each chord by the evidence. ``change_at``: chance of
    a change at each of their edges, in order of time, one more than there are segments.
    """
    lane, kinds, roots, lanes = likely.shape
    inner = lanes - 2
    quality = share.astype(np.float32)[:, None, None]
    other = np.float32((1.0 - same) / (roots - 1))
    again = np.float32(same) - other
    steps = lane + overlap
    # forward in time and backward in time run side by side; the edge before a segment parts it from
    # the one before, and seen from behind it is met one step earlier
    ahead = np.arange(-overlap, lane)[:, None] + lane * np.arange(1, inner + 1)
    behind = np.arange(lane + overlap, 0, -1)[:, None] + lane * np.arange(1, inner + 1)
    changes = change_at[np.stack((ahead, behind), axis=1)][:, :, None, None]
    stays, others, agains = 1 - changes, other * changes, again * changes
    joint = np.empty((lane, kinds, roots, inner), dtype=np.float32)
    chord = np.empty((2, kinds, roots, inner), dtype=np.float32)
    seen, now = np.empty_like(chord), np.empty_like(chord)
    now[:] = quality / np.float32(roots)  # at first any chord is likely
    for step in range(steps):
        # the last chord goes on, or a new one begins
        root = np.add.reduce(now, axis=1, keepdims=True)
        part = 1 / np.add.reduce(root, axis=2, keepdims=True)
        root *= agains[step] * part
        root += others[step]
        np.multiply(quality, root, out=chord)
        np.multiply(now, stays[step] * part, out=seen)
        chord += seen
        for way, place in enumerate((step - overlap, lane + overlap - 1 - step)):
            over, within = divmod(place, lane)
            np.multiply(chord[way], likely[within, ..., 1 + over : 1 + over + inner], out=now[way])
            # chance before × chance after, whichever way comes by first
            if over == 0 and (place < lane - place) == (way == 0):
                joint[place] = chord[way]
            elif over == 0:
                joint[place] *= chord[way]
    # times the evidence; the prior is in both ways and counts once
    joint *= likely[..., 1:-1]
    joint /= quality
    return joint
