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
_OVERLAP = 16  # segments of warm-up before a lane: two bars; the chances differ by 0.01 at most
_MOST_LANES = 32  # decoded at once: bounds the memory


def posterior(
    evidence: Floats | Singles, change: Floats, share: Floats, same: float
) -> tuple[Singles, Singles]:
    """Chance of each root in each segment, [n, 12], and of each chord on the likeliest, [n, q].

    ``evidence`` [n, 12, q]: log-weights. ``change`` [n]: probability that the chord changes where
    the segment begins. ``share`` [q]: quality of a new chord, sum 1. ``same``: probability that a
    change keeps the root (and may change the quality).
    """
    n, roots, kinds = evidence.shape
    lane, overlap = (_LANE, _OVERLAP) if n > _LANE + 2 * _OVERLAP else (max(n, 1), 0)
    lanes = -(-n // lane)
    # a lane of no evidence stands before the first and after the last
    weight = np.ones((kinds, roots, (lanes + 2) * lane), dtype=np.float32)
    by_chord = evidence.transpose(2, 1, 0)
    inner = weight[:, :, lane : lane + n]
    np.subtract(by_chord, by_chord.max(axis=(0, 1)), out=inner, casting="same_kind")
    np.exp(inner, out=inner)
    del evidence, by_chord  # what follows may have their memory: fresh pages are dear
    turn = np.full((lanes + 2) * lane + 1, 0.5, dtype=np.float32)
    turn[lane : lane + n] = change
    by_root = np.empty((lanes, lane, roots), dtype=np.float32)
    of_best = np.empty((lanes, lane, kinds), dtype=np.float32)
    for begin in range(0, lanes, _MOST_LANES):
        count = min(_MOST_LANES, lanes - begin)
        rows = slice(begin * lane, (begin + count + 2) * lane)
        # [lane, q, 12, lanes]: what one step asks of all lanes lies side by side
        likely = weight[:, :, rows].reshape(kinds, roots, count + 2, lane).transpose(3, 0, 1, 2)
        joint = _decode(
            np.ascontiguousarray(likely), turn[rows.start : rows.stop + 1], share, same, overlap
        )
        root = np.add.reduce(joint, axis=1, keepdims=True)
        whole = np.add.reduce(root, axis=2, keepdims=True)
        best = np.take_along_axis(joint, root.argmax(axis=2, keepdims=True), axis=2)
        by_root[begin : begin + count] = (root / whole)[:, 0].transpose(2, 0, 1)
        of_best[begin : begin + count] = (best / whole)[:, :, 0].transpose(2, 0, 1)
    return by_root.reshape(-1, roots)[:n], of_best.reshape(-1, kinds)[:n]


def _decode(likely: Singles, turn: Singles, share: Floats, same: float, overlap: int) -> Singles:
    """Decode lanes side by side, but for the first and the last, which only lead in.

    Gives the weight of each chord beside the others of its segment, [lane, q, 12, lanes].
    ``likely`` [lane, q, 12, lanes]: weight of each chord by the evidence. ``turn``: chance of a
    change at each of their edges, in order of time, one more than there are segments.
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
    turns = turn[np.stack((ahead, behind), axis=1)][:, :, None, None]
    stays, others, agains = 1 - turns, other * turns, again * turns
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
