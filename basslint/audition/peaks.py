"""How high does a signal peak between its samples, and how is it kept below a peak?

Source: ITU-R BS.1770-4, annex 2: the true peak is that of the signal at four times its rate.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from basslint.util.columns import differences, distinct

Samples = NDArray[np.float64]

_TAPS = 12  # samples on either side that a value between two is interpolated from
_PIECE = 1 << 16  # samples that are worked on at once: they stay in the processor's cache
_BLOCK = 1 << 9  # samples of which it is asked whether a peak may lie between them
_PART = 1 << 6  # samples of such a block
_AT_ONCE = 256  # blocks of which peaks are looked for at once
_SPAN = 1 << 13  # samples that are limited at once, where a peak may be too high
_LOOK_S = 0.005  # how long before a peak the limiter begins to give way, and after it to come back


@cache
def _between() -> NDArray[np.float64]:
    """Weights of the neighbours of the three values between two samples, [3, 2 * _TAPS]."""
    place = np.arange(-_TAPS + 1, _TAPS + 1)
    rows = []
    for quarter in (0.25, 0.5, 0.75):
        away = quarter - place
        rows.append(np.sinc(away) * (0.5 + 0.5 * np.cos(np.pi * away / _TAPS)))
    return np.array(rows)


def peaks(samples: Samples) -> Samples:
    """The greatest magnitude at and after each sample, up to the next one, at four times the rate.

    Shape as ``samples``.
    """
    high = np.abs(samples)
    if not len(samples):
        return high
    padded = np.concatenate((np.zeros(_TAPS - 1), samples, np.zeros(_TAPS)))
    for weights in _between():
        high = np.maximum(high, np.abs(np.convolve(padded, weights[::-1], "valid")))
    return high


def true_peak(samples: Samples) -> float:
    """The true peak as a share of full scale; values between samples are only worked out where
    they may pass what is found already."""
    most, highest = bounds(samples)
    order = np.argsort(-most)
    for begin in range(0, len(order), _AT_ONCE):
        rows = order[begin : begin + _AT_ONCE]
        rows = rows[most[rows] > highest]
        if not len(rows):
            break
        highest = max(highest, *_above(samples, rows, highest)[1].tolist(), 0.0)
    return highest


def _above(
    samples: Samples, rows: NDArray[np.intp], floor: float
) -> tuple[NDArray[np.intp], Samples]:
    """Where in some blocks a peak passes ``floor``: first samples of parts of `_PART`, and the
    greatest peak in each, [n].

    A shorter part has a tighter bound, so few are left in which peaks are worked out; those are
    laid side by side with what lies around them, since a call for each took longer than it does.
    """
    places, found = [np.zeros(0, dtype=np.intp)], [np.zeros(0)]
    for begin in range(0, len(rows), _AT_ONCE):
        at = rows[begin : begin + _AT_ONCE] * _BLOCK
        held = _laid_out(samples, at, _PART, _BLOCK + _PART + 1)
        parts = held[:, :-1].reshape(len(at), -1, _PART)
        steps = np.abs(held[:, 1:] - held[:, :-1]).reshape(parts.shape).max(axis=2)
        may = _most(np.maximum(parts.max(axis=2), -parts.min(axis=2)), steps) > floor
        part = (at[:, None] + np.arange(0, _BLOCK, _PART))[may]
        held = _laid_out(samples, part, _TAPS, _PART + _TAPS)
        high = peaks(held.ravel()).reshape(held.shape)[:, _TAPS : _TAPS + _PART].max(axis=1)
        places.append(part[high > floor])
        found.append(high[high > floor])
    return np.concatenate(places), np.concatenate(found)


def _laid_out(samples: Samples, at: NDArray[np.intp], before: int, after: int) -> Samples:
    """What lies from ``before`` some places to ``after`` them, a row for each; silence outside."""
    place = at[:, None] + np.arange(-before, after)
    held = samples.take(place, mode="clip")
    held[(place < 0) | (place >= len(samples))] = 0.0
    return held


def bounds(samples: Samples) -> tuple[Samples, float]:
    """What no peak in each block passes, [blocks], and the greatest magnitude of all samples.

    A value between two samples is a sum of its neighbours, and so cannot pass their greatest
    magnitude by more than the weights add up to, nor its own neighbour's by more than the steps
    between samples there allow.
    """
    count = -(-len(samples) // _BLOCK)
    level, step = np.zeros(count + 2), np.zeros(count + 2)  # greatest in a block, silence around
    most_at_once = -(-_PIECE // _BLOCK) * _BLOCK
    for begin in range(0, len(samples), most_at_once):
        piece = np.zeros(-(-min(len(samples) - begin, most_at_once) // _BLOCK) * _BLOCK + 1)
        held = samples[begin : begin + len(piece)]
        piece[: len(held)] = held
        blocks = slice(1 + begin // _BLOCK, 1 + begin // _BLOCK + (len(piece) - 1) // _BLOCK)
        level[blocks] = _greatest(piece[:-1])
        step[blocks] = _greatest(differences(piece))
    return _most(level, step), float(level.max(initial=0.0))


def _most(level: Samples, step: Samples) -> Samples:
    """What no peak in a block passes, by the greatest magnitude in it and in its neighbours and the
    greatest step there, [..., n]: [..., n - 2]."""
    weights = np.abs(_between())
    total = float(weights.sum(axis=1).max())
    own = float(np.abs(_between().sum(axis=1)).max())
    away = float((weights * np.abs(np.arange(-_TAPS + 1, _TAPS + 1))).sum(axis=1).max())
    around = own * level[..., 1:-1] + away * _of_three(step)
    return np.minimum(total * _of_three(level), around)


def _greatest(piece: Samples) -> Samples:
    """The greatest magnitude in each block; no second copy of the piece is made for it."""
    blocks = piece.reshape(-1, _BLOCK)
    greatest: Samples = np.maximum(blocks.max(axis=1), -blocks.min(axis=1))
    return greatest


def _of_three(values: Samples) -> Samples:
    """The greatest of each value and its two neighbours, [..., n]: [..., n - 2]."""
    return np.maximum(np.maximum(values[..., :-2], values[..., 2:]), values[..., 1:-1])


def limit(
    samples: Samples, ceiling: float, rate: int, most: Samples | None = None
) -> list[tuple[int, Samples]]:
    """Bring the true peak of a signal to ``ceiling`` or below, in place, smoothly around peaks:
    places, and what stood there before.

    The gain is the lowest that any peak within `_LOOK_S` needs, averaged over as long: no average
    of gains that all suffice is higher than what suffices. Where no peak passes the ceiling the
    signal is left as it is. ``most``: its `bounds`, where they are known.
    """
    side = 2 * round(_LOOK_S * rate) + _TAPS + 1  # what the gain at a sample may hang on
    rows = np.flatnonzero((bounds(samples)[0] if most is None else most) > ceiling)
    at, _ = _above(samples, rows, ceiling)
    # a part and what lies around it are shorter than a span, so they meet two at most
    spans = distinct(np.append((at - side) // _SPAN, (at + _PART + side) // _SPAN))
    inside = spans[(spans >= 0) & (spans * _SPAN < len(samples))] * _SPAN
    pieces, before = [], []
    for begin in inside.tolist():
        first = max(begin - side, 0)
        piece = _limited(samples[first : begin + _SPAN + side], ceiling, rate)
        pieces.append(piece[begin - first :][:_SPAN])
        before.append((begin, samples[begin : begin + _SPAN].copy()))
    for (begin, _), piece in zip(before, pieces, strict=True):
        samples[begin : begin + _SPAN] = piece  # only now: what lies beside is needed as it was
    return before


def _limited(samples: Samples, ceiling: float, rate: int) -> Samples:
    """A piece of a signal, limited."""
    need = np.minimum(1.0, ceiling / np.maximum(peaks(samples), 1e-12))
    need[1:] = np.minimum(need[1:], need[:-1])  # a value between two samples belongs to both
    if need.min(initial=1.0) >= 1.0:
        return samples
    look = round(_LOOK_S * rate)
    lowest = _lowest_of(np.concatenate((np.ones(look), need, np.ones(look))), 2 * look + 1)
    padded = np.concatenate((np.full(look, lowest[0]), lowest, np.full(look, lowest[-1])))
    total = np.concatenate(([0.0], np.cumsum(padded)))
    gain = (total[2 * look + 1 :] - total[: -2 * look - 1]) / (2 * look + 1)
    result: Samples = samples * gain
    return result


def _lowest_of(values: Samples, count: int) -> Samples:
    """The minimum of every ``count`` neighbours, [n − count + 1], by windows that double."""
    window = 1
    while 2 * window <= count:
        values = np.minimum(values[:-window], values[window:])
        window *= 2
    if window < count:
        values = np.minimum(values[: len(values) - (count - window)], values[count - window :])
    return values
