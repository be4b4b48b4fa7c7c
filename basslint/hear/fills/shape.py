"""Which way do the velocities and the pitches of a roll go?"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Column = NDArray[np.float64]
Velocity = Literal["rising", "falling", "flat", "free"]
Movement = Literal["steady", "rising", "falling", "octave", "moving", "drums"]


def loudness_db(velocity: Column) -> Column:
    """Level of a velocity in dB under 127: 40·log10(v/127).

    The concave velocity curve of the DLS Level 1 specification, stated from memory.
    """
    return np.asarray(40 * np.log10(np.maximum(velocity, 1) / 127))


def velocity_shape(velocity: Column) -> Velocity:
    """The shape of a roll's velocities, [n ≥ 2], by a line through their levels.

    Flat: all within 1 dB, about the smallest change of level that is heard (textbook value of
    psychoacoustics, from memory). Rising or falling: the line climbs 1.5 dB or more from first to
    last hit and is 2.5 times steeper than its own standard error; else free.
    """
    level = loudness_db(velocity)
    if level.max() - level.min() < 1.0:
        return "flat"
    index = np.arange(len(level)) - (len(level) - 1) / 2
    spread = float(index @ index)
    slope = float(index @ level) / spread
    rest = level - level.mean() - slope * index
    error = float(np.sqrt(rest @ rest / max(len(level) - 2, 1) / spread))
    if abs(slope) * (len(level) - 1) < 1.5 or abs(slope) < 2.5 * error:
        return "free"
    return "rising" if slope > 0 else "falling"


def movement(pitch: NDArray[np.int64]) -> tuple[Movement, int]:
    """How the pitches of a roll move, [n ≥ 2], and by how many semitones from first to last."""
    move = np.diff(pitch)
    net = int(move.sum())
    if not move.any():
        return "steady", 0
    if (move % 12 == 0).all():
        return "octave", net
    if (move >= 0).all() or (move <= 0).all():
        return ("rising" if net > 0 else "falling"), net
    return "moving", net
