"""At which pitch does a sound repeat itself, moment by moment?

The first of two methods that must agree: the normalised autocorrelation of short stretches. A sound
that repeats after a period also repeats after two, so longer periods pay a little.

Source: normalised cross-correlation as in Talkin, "A robust algorithm for pitch tracking" (1995).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 24.0, 500.0  # a bass sound lies between; G0 is 24.5 Hz
CENTS = 10.0  # from one candidate to the next: fine enough for a start, found better afterwards
CANDIDATES_HZ: Floats = LOWEST_HZ * 2.0 ** (
    np.arange(int(1200 * np.log2(HIGHEST_HZ / LOWEST_HZ) / CENTS)) * CENTS / 1200
)
WINDOW_S = 0.06  # compared with itself a period later: two periods and more of most bass notes
REACH_S = WINDOW_S + 1.0 / LOWEST_HZ  # seconds of sound that one moment looks at
_FINER = 4  # times as fine as its samples: a peak at 500 Hz is three samples wide
_LONGER_PAYS = 0.02  # per octave of period: repeats after two periods must not win over one


def repeats(frames: Floats, rate: float) -> Floats:
    """How well each stretch repeats itself at each candidate pitch, float64 [frames, candidates].

    ``frames`` float64 [f, n], n samples of `REACH_S` at ``rate`` Hz. 1: it repeats exactly.
    """
    size = round(WINDOW_S * rate)
    lags = frames.shape[1] - size
    n = 1 << int(frames.shape[1] + size).bit_length()
    head = np.fft.rfft(frames[:, :size], n)
    cross = np.fft.irfft(np.fft.rfft(frames, n) * np.conj(head), n * _FINER)[:, : lags * _FINER]
    cross *= _FINER
    energy = np.cumsum(frames**2, axis=1)
    energy = np.concatenate((np.zeros((len(frames), 1)), energy), axis=1)
    shifted = energy[:, size : size + lags] - energy[:, :lags]
    both = np.sqrt(np.maximum(shifted[:, :1] * shifted, 1e-24))
    lag = rate / CANDIDATES_HZ
    at = np.clip(lag * _FINER, 0, cross.shape[1] - 2)
    low = at.astype(int)
    share = at - low
    alike = cross[:, low] * (1 - share) + cross[:, low + 1] * share
    scale = both[:, np.clip(np.rint(lag).astype(int), 0, lags - 1)]
    octaves = np.log2(HIGHEST_HZ / CANDIDATES_HZ)
    return np.asarray(alike / scale - _LONGER_PAYS * octaves)
