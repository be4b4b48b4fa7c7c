"""At which pitch do the overtones of a sound line up, moment by moment?

The second of two methods that must agree: the spectrum is compared with that of a harmonic tone of
each candidate pitch: peaks on the first partial and those of prime number speak for it, what lies
between partials against it.

Source: A. Camacho and J. Harris, "A sawtooth waveform inspired pitch estimator", JASA 124 (2008).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from basslint.sound.periodicity import CANDIDATES_HZ

Floats = NDArray[np.float64]

WINDOW_S = 0.17  # five periods of 30 Hz: neighbouring partials just stand apart
_TOP_HZ = 1000.0  # of the band that is looked at
_BIN_HZ = 2.0
_HERTZ: Floats = np.arange(_BIN_HZ, _TOP_HZ + _BIN_HZ / 2, _BIN_HZ)
_PARTIALS = (1, 2, 3, 5, 7, 11, 13, 17, 19, 23, 29)  # no pitch shares all of them with its octave


def lines_up(frames: Floats, rate: float) -> Floats:
    """How well the spectrum of each stretch fits each candidate, float64 [frames, candidates].

    ``frames`` float64 [f, n] at ``rate`` Hz, n samples of `WINDOW_S` or what there is of the sound.
    1: nothing but the partials of that pitch.
    """
    window = np.hanning(frames.shape[1] + 2)[1:-1]
    n = max(1 << int(np.ceil(np.log2(rate / _BIN_HZ))), frames.shape[1])
    spectrum = np.abs(np.fft.rfft(frames * window, n))
    at = _HERTZ * n / rate
    low = np.minimum(at.astype(int), spectrum.shape[1] - 2)
    share = np.clip(at - low, 0.0, 1.0)
    loud = np.sqrt(spectrum[:, low] * (1 - share) + spectrum[:, low + 1] * share)
    loud /= np.maximum(np.sqrt((loud**2).sum(axis=1, keepdims=True)), 1e-12)
    return np.asarray(loud @ _kernel().T)


@cache
def _kernel() -> Floats:
    """What each frequency says for each candidate, float64 [candidates, bins]."""
    partial = _HERTZ[None, :] / CANDIDATES_HZ[:, None]
    counts = np.zeros(int(partial.max()) + 2)
    counts[[k for k in _PARTIALS if k < len(counts)]] = 1.0
    whole = np.floor(partial).astype(int)
    between = np.abs(partial - whole - 0.5) < 0.25
    speaks = np.where(
        between, 0.5 * (counts[whole] + counts[whole + 1]), counts[np.rint(partial).astype(int)]
    )
    kernel = speaks * np.cos(2 * np.pi * partial) / np.sqrt(_HERTZ)[None, :]
    total = np.sqrt((np.maximum(kernel, 0.0) ** 2).sum(axis=1, keepdims=True))
    return np.asarray(kernel / total)
