"""What of a spectrum lasts, as notes do, and what is broad and short, as drums are?

Median filtering along time and along frequency (FitzGerald, DAFx 2010): the share of each cell that
lasts is kept.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]

_TIME = 9  # frames, 0.4 s: a note that is struck an eighth long stays
_PITCH = 21  # bins, seven semitones: wider than a note, narrower than a drum
_BLOCK = 512  # frames filtered at a time: bounds the memory


def lasting(spectra: Singles) -> Singles:
    """``spectra`` [frames, bins] with what is broad and short taken down."""
    result = np.empty_like(spectra)
    across = np.pad(spectra, ((_TIME // 2, _TIME // 2), (0, 0)), mode="edge")
    along = np.pad(spectra, ((0, 0), (_PITCH // 2, _PITCH // 2)), mode="edge")
    view = np.lib.stride_tricks.sliding_window_view
    for begin in range(0, len(spectra), _BLOCK):
        rows = slice(begin, min(begin + _BLOCK, len(spectra)))
        held = _median(view(across[begin : rows.stop + _TIME - 1], _TIME, axis=0))
        broad = _median(view(along[rows], _PITCH, axis=1))
        held *= held
        broad *= broad
        result[rows] = spectra[rows] * (held / (held + broad + 1e-12))
    return result


def _median(windows: Singles) -> Singles:
    """Median along the last axis, of an odd size."""
    middle = windows.shape[-1] // 2
    return np.ascontiguousarray(np.partition(windows, middle, axis=-1)[..., middle])
