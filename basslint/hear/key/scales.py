"""Which seven notes are in use, bar by bar?

A Markov chain over the twelve major scales, on the key profiles of Albrecht and Shanahan 2013. A
scale is heard before its tonic: relative keys share it, and it is far easier to tell.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.sounding import sounding_per_cell
from basslint.song.timing import BarGrid
from basslint.util.columns import TINY, within

Floats = NDArray[np.float64]

# Albrecht & Shanahan 2013, "The use of large corpora to train a new type of key-finding algorithm",
# table of probabilities: share of each degree, from the tonic up. Written from memory and then
# found to agree with the table in the library amads (tests/outside/test_key_profiles.py).
PROFILE_MAJOR = np.array(
    [0.238, 0.006, 0.111, 0.006, 0.137, 0.094, 0.016, 0.214, 0.009, 0.080, 0.008, 0.081]
)
PROFILE_MINOR = np.array(
    [0.220, 0.006, 0.104, 0.123, 0.019, 0.103, 0.012, 0.214, 0.062, 0.022, 0.061, 0.052]
)

# A scale sounds much the same whichever of its relative keys is home: the mean of both profiles.
_SCALE = 0.5 * PROFILE_MAJOR + 0.5 * np.roll(PROFILE_MINOR, 9)
_TABLE = np.log(np.stack([np.roll(_SCALE, tonic) for tonic in range(12)]))
_CHANGE = 3.0  # log-odds against a change of scale at a bar line: one to two bars of clear notes
_CHANGES = 1.0 / (1.0 + float(np.exp(_CHANGE)))
_MOVE = (1.0 - _CHANGES) * np.eye(12) + _CHANGES / 12  # chance to move from one scale to another
_CARRIED = 32  # bars: each leaves .004 of the weight at least, and so many 1e-77, which is no zero


def sounding_per_bar(
    start: NDArray[np.int64], end: NDArray[np.int64], pitch: NDArray[np.integer], grid: BarGrid
) -> Floats:
    """How long each pitch class sounds in each bar, in bars, [bars, 12].

    ``start`` and ``end`` (ticks) and ``pitch`` [n] of all that sounds.
    """
    edge = grid.start
    ticks = within(np.array((start, end)), edge[0], edge[-1])
    bar = grid.bar_of(ticks)
    begin = edge[bar]
    passed = (ticks - begin) / np.maximum(edge[bar + 1] - begin, 1)
    held = sounding_per_cell((bar, passed), (pitch % 12).astype(np.int64), 12, grid.bars)
    return np.maximum(held, 0.0)


def scale_score(held: Floats) -> Floats:
    """Log-likelihood of each scale in each bar, [bars, 12], by what sounds.

    ``held`` [bars, 12] as from `sounding_per_bar`. A full bar has one say, one that hardly sounds
    has less.
    """
    share = held / np.maximum(held.sum(axis=1, keepdims=True), 1.0)
    return np.asarray(share @ _TABLE.T)


def scale_path(score: Floats) -> NDArray[np.intp]:
    """The likeliest course of scales through the bars (Viterbi), tonics of major scales [bars].

    ``score`` [bars, 12] as from `scale_score`.
    """
    likeliest = _scale_all_through(score)
    if likeliest is not None:
        return np.full(len(score), likeliest, dtype=np.intp)
    # plain numbers: for twelve of them a loop is faster than an array
    first, *rest = score.tolist()
    best = first
    past: list[tuple[list[float], float]] = []  # the best before each bar, and by moving into it
    for row in rest:
        moved = max(best) - _CHANGE
        past.append((best, moved))
        best = [(b if b >= moved else moved) + s for b, s in zip(best, row, strict=True)]
    path = [best.index(max(best))]
    for before, moved in reversed(past):
        stays = before[path[-1]] >= moved
        path.append(path[-1] if stays else before.index(max(before)))
    return np.array(path[::-1], dtype=np.intp)


def _scale_all_through(score: Floats) -> int | None:
    """The one scale that is surely the likeliest course from first to last bar, as in most songs.

    None where another one is as likely all through, or a stretch on others may gain as much as the
    changes cost, if not for rounding: a stretch takes a change at least, and two that share the
    whole song one between them.
    """
    best = int(np.add.reduce(score).argmax())
    gain = np.zeros((len(score) + 1, score.shape[1]))  # of the others, up to each bar line
    (score - score[:, best, None]).cumsum(axis=0, out=gain[1:])
    if np.count_nonzero(gain[-1] > -TINY) > 1:
        return None
    first = np.maximum.reduce(gain, axis=None)
    gain -= np.minimum.accumulate(gain)  # of the best stretch that ends there
    most, last = np.maximum.reduce(gain, axis=None), np.maximum.reduce(gain[-1])
    return best if max(most, first + last) < _CHANGE - TINY else None


def scale_chance(score: Floats) -> Floats:
    """Posterior probability of each major scale in each bar (forward-backward), [bars, 12].

    ``score`` [bars, 12] as from `scale_score`.
    """
    likely = np.exp(score - score.max(axis=1, keepdims=True))
    carried = _carried(np.stack((likely, likely[::-1]), axis=1))
    joint = carried[:, 0] * likely * carried[::-1, 1]
    return np.asarray(joint / joint.sum(axis=1, keepdims=True))


def _carried(likely: Floats) -> Floats:
    """Weight of each scale in each bar by the bars before it, beside the others, [bars, k, 12].

    ``likely`` [bars, k, 12]: of k courses of bars, the weight of each scale by what sounds, 1 of
    the likeliest. The weights are brought back to 1 where they might come near to zero.
    """
    ahead = np.full(likely.shape, 1.0 / 12)
    seen = np.empty(likely.shape[1:])
    for bar, (before, row, after) in enumerate(zip(ahead, likely, ahead[1:], strict=False)):
        np.multiply(before, row, out=seen)
        if bar % _CARRIED == 0:
            seen /= seen.sum(axis=1, keepdims=True)
        seen.dot(_MOVE, after)  # of so few rows in fewer calls than `matmul`
    return ahead
