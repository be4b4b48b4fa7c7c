"""Which division into phrases is likely, and how likely is each phrase start?

A semi-Markov chain: the score of a division is the sum of its phrases' scores, its probability
goes with the exponential. The forward-backward sums run over all divisions (Sarawagi and Cohen
2004), so a probability says how much of the weight of all divisions begins a phrase at a bar.
"""

from __future__ import annotations

import numpy as np

from basslint.hear.bars import Floats

_NONE = -1e30  # logarithm of a probability of zero, kept finite


def start_probability(score: Floats) -> Floats:
    """How likely a phrase begins at each bar, [n], from the scores of all phrases.

    ``score`` [n, longest]: the log weight of a phrase from bar s over l + 1 bars. The first bar
    always begins a phrase.
    """
    size, longest = score.shape
    if size == 0:
        return np.zeros(0)
    fits = np.arange(size)[:, None] + np.arange(1, longest + 1) <= size
    score = np.where(fits, score, _NONE)
    # turned so that the phrases that end at a bar lie in one row: ending[e, l] begins at e - l
    ending = np.full((size + 1, longest), _NONE)
    for length in range(1, min(longest, size) + 1):
        ending[length:, length - 1] = score[: size - length + 1, length - 1]
    ahead = np.full(size + longest + 1, _NONE)
    ahead[size] = 0.0
    for bar in range(size - 1, -1, -1):
        ahead[bar] = _log_sum(score[bar] + ahead[bar + 1 : bar + 1 + longest])
    past = np.full(size + longest + 1, _NONE)  # past[longest + b] is that of bar b
    past[longest] = 0.0
    for bar in range(1, size + 1):
        past[longest + bar] = _log_sum(ending[bar] + past[bar : bar + longest][::-1])
    total = past[longest : longest + size] + ahead[:size] - ahead[0]
    return np.asarray(np.exp(np.minimum(total, 0.0)))


def _log_sum(value: Floats) -> float:
    peak = float(value.max())
    return peak + float(np.log(np.exp(value - peak).sum()))


def pick_starts(probability: Floats, least: float, apart: int) -> list[int]:
    """Starts that are likelier than ``least``, at least ``apart`` bars from one another.

    Maximises the summed excess over ``least``, which is what the F1 measure rewards when precision
    and recall weigh the same (Lewis 1995: the best threshold is half the best F1). The first bar
    is always a start, however short what follows.
    """
    size = len(probability)
    excess = probability - least
    best = np.zeros(size + apart + 1)  # best[b]: the most that bars b.. can add
    take = np.zeros(size, dtype=bool)
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
