"""Where do each four bars begin and end?

Whether four bars end at a line does not hang on whether a phrase has four bars or eight, so fours
are surer than phrases. A tune that waits two bars may hide where a phrase begins, and still all
bars around say which lines are on fours.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.form.bars import Floats
from basslint.hear.form.division import best_division
from basslint.hear.form.phrases import Phrases
from basslint.util.columns import TINY, ends_of, windows
from basslint.util.records import record

_FOUR = 4  # bars
_EDGE = 0.5  # say of the song's first and last bar line: an intro or a tail may have any length
_LEAST = 1e-3  # share that is taken where no likely start is on fours: its logarithm stays finite
_NEAR_BARS = 8  # phrases as long as this and shorter are heard beside each other
_BY_CHANCE = 0.25  # share of the lines that are on fours if nobody knows where they begin
_ODD = 3.0  # log weight of fewer than four bars, times the doubt in the start after them
_SURE = 0.9  # a start of which more is left to no weighing
_NEVER = -40.0  # log weight of what must not be; finite, so that some division is always left


@record(eq=False)
class FourBars:
    """The groups of four bars of a song: ``share`` as from `four_bar_share`, and ``lines``, bars
    from 0 and rising, with which groups begin, and the one after the last; both empty where no note
    sounds."""

    share: Floats
    lines: NDArray[np.int64]


def hear_four_bars(phrases: Phrases) -> FourBars:
    """Hear where each four bars begin by where phrases do."""
    if not len(phrases):
        return FourBars(np.zeros(0), phrases.start_bar)
    share = four_bar_share(phrases)
    begin, end = four_bar_groups(phrases, share)
    return FourBars(share, np.concatenate((begin, end[-1:])))


def four_bar_share(phrases: Phrases) -> Floats:
    """Share of the likely phrase starts around each bar that are a multiple of four bars away."""
    weight = phrases.chance.copy()
    weight[phrases.start_bar[0]] *= _EDGE
    weight[phrases.end_bar[-1]] *= _EDGE
    padded = np.zeros(len(weight) + 2 * _NEAR_BARS)
    padded[_NEAR_BARS:-_NEAR_BARS] = weight
    # row by row the weight of the bar so many before, up to so many after each
    near = windows(padded, len(weight)).copy()
    return np.asarray(np.add.reduce(near[::_FOUR]) / np.maximum(np.add.reduce(near), TINY))


def four_bar_groups(phrases: Phrases, share: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First bar and bar after the last of groups of four bars or fewer, [s] each, without gaps.

    They tile the bars from the first phrase to the end of the last, and are the likeliest division:
    the more of the phrase starts around a line lie on fours from it (``share``, as from
    `four_bar_share`), the better a group that ends there, while one of fewer than four bars costs,
    save before a sure start, which none has inside. The song must have phrases. Linear in bars. The
    weights are judgement; on phrases that people marked in pop songs .88 of the lines told are
    right, on loops .98 (tests/bench/hearing_phrases.py).
    """
    first, last = int(phrases.start_bar[0]), int(phrases.end_bar[-1])
    size = last - first
    gain = np.full(size + _FOUR, _NEVER)  # of a group that ends at each line after the first
    near = share[first + 1 : last + 1]
    gain[:size] = np.log(np.maximum(near, _LEAST) / _BY_CHANCE)
    start = np.zeros(size + _FOUR)
    start[: size - 1] = phrases.chance[first + 1 : last]
    start[size - 1] = 1.0
    # of groups of one to four bars from each bar on, [size, 4]
    score, begins = windows(gain, _FOUR)[:size].copy(), windows(start, _FOUR)[:size]
    score[:, :-1] -= _ODD * (1.0 - begins[:, :-1])
    score[:, 1:] += _NEVER * np.logical_or.accumulate(begins >= _SURE, axis=1)[:, :-1]
    starts = np.array(best_division(score), dtype=np.int64) + first
    return starts, ends_of(starts, last)
