"""Which frequency has each pitch? Twelve-tone equal temperament, A4 = 440 Hz (ISO 16)."""

from __future__ import annotations

from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

A4: Final = 69  # its MIDI number
A4_HZ: Final = 440.0  # ISO 16
SOURCE: Final = "ISO 16 (A = 440 Hz), twelve-tone equal temperament"


@overload
def frequency(pitch: float) -> float: ...
@overload
def frequency(pitch: NDArray[np.generic]) -> NDArray[np.float64]: ...
def frequency(pitch: float | NDArray[np.generic]) -> float | NDArray[np.float64]:
    """Hertz of MIDI numbers, one or a column, fractions counted: 440·2^((n−69)/12)."""
    if isinstance(pitch, np.ndarray):
        return np.asarray(A4_HZ * 2.0 ** ((pitch.astype(np.float64) - A4) / 12.0))
    return float(A4_HZ * 2.0 ** ((pitch - A4) / 12.0))


def octaves_aside(semitones: float) -> int:
    """The whole semitones nearest to some, octaves aside: −5 to 6."""
    return 6 - (6 - round(semitones)) % 12
