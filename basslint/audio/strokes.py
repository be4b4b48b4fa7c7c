"""When is something struck, and how hard, whatever it is?

Spectral flux: how much louder the bands have become since the frame before last (Bello et al., IEEE
TSAP 2005), on the logarithm of the magnitude, so that soft strokes count beside loud ones.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.spectra import RATE_HZ

Singles = NDArray[np.float32]

STROKE_HOP = 128  # samples, 11.6 ms: what the ear still takes for one stroke
STROKE_S = STROKE_HOP / RATE_HZ
EARLY_S, LATE_S = 0.035, 0.06  # before and after an edge a stroke belongs to it: a hand's spread
_HARD = 0.98  # quantile of the stroke strength that counts as a hard stroke of the loop
_LEAST_HARD = 1e-3  # nepers: where hardly anything is struck
_WINDOW = 512  # samples, 46 ms: the lowest band of 21 Hz steps still holds a kick
_BANDS = 24
_FROM_HZ, _TO_HZ = 60.0, 5000.0
_LAG = 2  # frames compared: one is half the window's own slope
_FLOOR = 1e-3  # of the loudest band: below, noise rises and falls for nothing
_BLOCK = 2048  # frames at a time: bounds the memory


def band_levels(sound: Singles) -> Singles:
    """Logarithm of the magnitude in each band, float32 [frames, bands]; frame k is centred on
    sample k * `STROKE_HOP`.
    """
    padded = np.pad(sound, (_WINDOW // 2, _WINDOW // 2 + STROKE_HOP))
    views = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::STROKE_HOP]
    views = views[: len(sound) // STROKE_HOP + 1]
    window = np.hanning(_WINDOW + 1)[:-1].astype(np.float32)
    hertz = np.arange(_WINDOW // 2 + 1) * RATE_HZ / _WINDOW
    edges = np.geomspace(_FROM_HZ, _TO_HZ, _BANDS + 1)
    band = np.digitize(hertz, edges) - 1
    table = (band[:, None] == np.arange(_BANDS)).astype(np.float32)
    table = table[:, table.any(axis=0)]
    levels = np.empty((len(views), table.shape[1]), dtype=np.float32)
    for begin in range(0, len(views), _BLOCK):
        block = np.abs(np.fft.rfft(views[begin : begin + _BLOCK] * window, axis=1))
        levels[begin : begin + len(block)] = np.sqrt((block * block).astype(np.float32) @ table)
    return np.log(levels + _FLOOR * float(levels.max(initial=1e-9)))


def stroke_strength(levels: Singles) -> Singles:
    """How much is struck at each frame, float32 [frames], mean rise of the bands in nepers."""
    rise = np.zeros(len(levels), dtype=np.float32)
    rise[_LAG // 2 : len(levels) - _LAG + _LAG // 2] = np.maximum(
        levels[_LAG:] - levels[:-_LAG], 0.0
    ).mean(axis=1)
    return rise


def hard_stroke(strength: Singles) -> float:
    """How hard the hard strokes of a loop are, ``strength`` as from `stroke_strength`, nepers."""
    return max(float(np.quantile(strength, _HARD)), _LEAST_HARD)
