"""Which division into phrases is likely, and how likely is each phrase start?

A semi-Markov chain: the score of a division is the sum of its phrases' scores, its probability
goes with the exponential. The forward-backward sums run over all divisions (Sarawagi and Cohen
2004), so a probability says how much of the weight of all divisions begins a phrase at a bar.
"""

from __future__ import annotations

from math import inf, log
from operator import add

import numpy as np

from basslint.hear.form.bars import Floats

_HUGE, _TINY = 1e100, 1e-100  # running weights are brought back to 1 beyond these
_MOST = 700.0  # the largest score whose exponential is finite, with a margin


def start_probability(score: Floats) -> Floats:
    """How likely a phrase begins at each bar, [n], from the scores of all phrases.

    ``score`` [n, longest]: the log weight of a phrase from bar s over l + 1 bars. The first bar
    always begins a phrase.
    """
    size, longest = score.shape
    if size == 0:
        return np.zeros(0)
    # none of phrases that begin before the first bar; those that would pass the end stand in no row
    # of those that end below, and nothing is ahead of them
    weights = np.zeros((longest + size, longest))
    weight = weights[longest:]
    np.exp(np.minimum(score, _MOST), out=weight)
    # turned so that the phrases that end at a bar lie in one row, ending[e - 1, l]: a row further
    # on ends a bar later, and a bar longer begins one earlier
    one = weights.itemsize
    turned = (longest * one, (1 - longest) * one)
    ending = np.ndarray((size, longest), weights.dtype, weights, longest * longest * one, turned)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):  # no way: minus infinity
        ahead = _log_sums(weight[::-1])[::-1]
        past = _log_sums(ending)
    return np.asarray(np.exp(np.minimum(past[:-1] + ahead[:-1] - ahead[0], 0.0)))


def _log_sums(rows: Floats) -> Floats:
    """Logarithm of the summed weight of all ways to each bar, [n + 1], from a way of weight 1.

    ``rows`` [n, longest]: weight of the step to the next bar from 1, 2, … bars before it.
    """
    size, longest = rows.shape
    sums = np.zeros(longest + size)  # no way begins before the first bar
    sums[longest - 1] = 1.0
    divided = np.zeros(longest + size)  # logarithm of what sums are divided by from here on
    for bar, row in enumerate(np.ascontiguousarray(rows[:, ::-1])):
        total = sums[bar + longest] = row.dot(sums[bar : bar + longest])
        if not _TINY < total < _HUGE:
            next_from = sums[bar + 1 : bar + 1 + longest]
            largest = next_from.max() or 1.0
            next_from /= largest
            divided[bar + 1] += log(largest)
    return np.asarray(np.log(sums[longest - 1 :]) + divided.cumsum()[longest - 1 :])


def pick_starts(probability: Floats, least: float, apart: int) -> list[int]:
    """Starts that are likelier than ``least``, at least ``apart`` bars from one another.

    Maximises the summed excess over ``least``, which is what the F1 measure rewards when precision
    and recall weigh the same (Lewis 1995: the best threshold is half the best F1). The first bar
    is always a start, however short what follows.
    """
    size = len(probability)
    excess = (probability - least).tolist()
    best = [0.0] * (size + apart + 1)  # best[b]: the most that bars b.. can add
    take = [False] * size
    for bar in range(size - 1, 0, -1):
        taken = excess[bar] + best[min(bar + apart, size)]
        take[bar] = taken > best[bar + 1] and excess[bar] > 0.0
        best[bar] = taken if take[bar] else best[bar + 1]
    starts = [0] if size else []
    bar = 1
    while bar < size:
        if take[bar]:
            starts.append(bar)
            bar += apart
        else:
            bar += 1
    return starts


def best_division(score: Floats) -> list[int]:
    """The starts of the division with the highest score (Viterbi); ``score`` [n, longest].

    The phrases tile the n bars exactly.
    """
    size, longest = score.shape
    best = [-inf] * (size + longest + 1)
    best[size] = 0.0
    length = [0] * size
    for bar, row in zip(range(size - 1, -1, -1), score[::-1].tolist(), strict=True):
        total = list(map(add, row, best[bar + 1 : bar + 1 + longest]))
        best[bar] = max(total)
        length[bar] = total.index(best[bar]) + 1
    starts = []
    bar = 0
    while bar < size:
        starts.append(bar)
        bar += length[bar]
    return starts
