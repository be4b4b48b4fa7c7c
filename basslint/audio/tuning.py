"""How far from A = 440 Hz does a loop stand, and do its notes agree on it?

The mean of the peaks' distances from the nearest note, as angles, so that a quarter tone up and a
quarter tone down are the same (circular statistics; Müller, Fundamentals of Music Processing, 2015,
section 3.1.2.1, there by comparing shifted grids).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.spectra import LONG, RATE_HZ
from basslint.util.records import record

Singles = NDArray[np.float32]

_STEP = 2048  # samples between the looks, 186 ms: tuning needs no times
_FROM_HZ, _TO_HZ = 110.0, 2000.0  # below, windows are too coarse; above, strings are stretched
_LEAST = 0.01  # of the loudest peak of its moment, -40 dB: below lie noise and side lobes
_WEIGHT = 0.5  # power of the magnitude: the loudest note has a say, not the only one
_QUARTER_TONE = 50.0  # cents
_DOUBT_CENTS = 3.0  # by which tunings scatter about what was done to the sound (tests/bench)
_MORE_DOUBT_CENTS = 5.0  # where the notes do not agree on one at all, as in a choir
AGREED = 0.2  # agreement from which on there is no more than the plain doubt
_FLAT = 1e-6  # of a peak's curve: flatter, as of a click, it has no middle to be found
_BLOCK = 256  # looks at a time: bounds the memory


@record
class Tuning:
    """``cents`` above A = 440 Hz equal temperament, −50..50. ``agreement`` 0..1: vector strength of
    the peaks, 1 where all lie equally far from their notes, 0 where they lie anywhere.
    """

    cents: float
    agreement: float


def hear_tuning(sound: Singles) -> Tuning:
    """The tuning of a sound, float32 [samples] at `RATE_HZ`; 0 cents at agreement 0 for silence."""
    window = np.hanning(LONG + 1)[:-1].astype(np.float32)
    padded = np.concatenate((sound, np.zeros(max(LONG - len(sound), 0), np.float32)))
    views = np.lib.stride_tricks.sliding_window_view(padded, LONG)[::_STEP]
    step = RATE_HZ / LONG
    first, last = int(_FROM_HZ / step), int(_TO_HZ / step)
    total, weight = 0j, 0.0
    for begin in range(0, len(views), _BLOCK):
        block = np.abs(np.fft.rfft(views[begin : begin + _BLOCK] * window, axis=1))
        block = block[:, first - 1 : last + 2]
        left, here, right = block[:, :-2], block[:, 1:-1], block[:, 2:]
        peak = (here > left) & (here >= right)
        peak &= here > _LEAST * here.max(axis=1, keepdims=True, initial=0.0) + 1e-6
        row, column = np.nonzero(peak)
        a, b, c = (np.log(x[row, column] + 1e-9) for x in (left, here, right))
        hertz = (first + column + 0.5 * (a - c) / np.minimum(a - 2.0 * b + c, -_FLAT)) * step
        loud = here[row, column].astype(np.float64) ** _WEIGHT
        total += complex((loud * np.exp(2j * np.pi * 12.0 * np.log2(hertz / 440.0))).sum())
        weight += float(loud.sum())
    if weight == 0.0:
        return Tuning(0.0, 0.0)
    return Tuning(float(np.angle(total)) / (2.0 * np.pi) * 100.0, abs(total) / weight)


def certainty(tuning: Tuning) -> float:
    """How far the tuning may be relied on, 0..1: how far the notes agree on it, and whether the
    nearest notes are the ones that are meant.
    """
    return min(tuning.agreement / AGREED, 1.0) * (1.0 - other_reading(tuning))


def other_reading(tuning: Tuning) -> float:
    """Chance 0..0.5 that the notes are meant a semitone above (below) the nearest ones."""
    doubt = _DOUBT_CENTS + _MORE_DOUBT_CENTS * max(1.0 - tuning.agreement / AGREED, 0.0)
    beyond = (_QUARTER_TONE - abs(tuning.cents)) / doubt
    return float(1.0 / (1.0 + np.exp(beyond)))
