"""Which way do the velocities and the pitches of a roll go?"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from basslint.hear.fills.least_squares import line_fit
from basslint.util.columns import differences

Column = NDArray[np.float64]
_CONCAVE_DB = 40.0  # twice 20·log10: amplitude goes with the square of the velocity
_LOUDEST = 127.0  # velocity, MIDI 1.0
_JUST_HEARD_DB = 1.0  # smallest change of level heard; textbooks of psychoacoustics, unverified
_CLIMB_DB = 1.5  # from first to last hit: half as much again (common practice, no source)
_SURELY = 2.5  # standard errors: about one flat roll in eighty is that steep by chance
Velocity = Literal["rising", "falling", "flat", "free"]
Movement = Literal["steady", "rising", "falling", "octave", "moving", "drums"]


def loudness_db(velocity: Column) -> Column:
    """Level of a velocity in dB under the loudest: 40·log10(v/127).

    The concave transform of the DLS Level 1 specification, from memory; readers of it give the same
    formula (R. Dannenberg, "The Interpretation of MIDI Velocity", ICMC 2006), but the document
    itself was not at hand to verify it.
    """
    return np.asarray(_CONCAVE_DB * np.log10(np.maximum(velocity, 1) / _LOUDEST))


def velocity_shape(velocity: Column) -> Velocity:
    """The shape of a roll's velocities, [n ≥ 2], by a line through their levels.

    Flat: all within what is just heard as a change. Rising or falling: the line climbs clearly from
    first to last hit, and surely by its own standard error; else free.
    """
    level = loudness_db(velocity)
    if level.max() - level.min() < _JUST_HEARD_DB:
        return "flat"
    _, slope, error = line_fit(np.arange(len(level), dtype=np.float64), level)
    if abs(slope) * (len(level) - 1) < _CLIMB_DB or abs(slope) < _SURELY * error:
        return "free"
    return "rising" if slope > 0 else "falling"


def movement(pitch: NDArray[np.int64]) -> tuple[Movement, int]:
    """How the pitches of a roll move, [n ≥ 2], and by how many semitones from first to last."""
    move = differences(pitch)
    net = int(move.sum())
    if not np.count_nonzero(move):
        return "steady", 0
    if (move % 12 == 0).all():
        return "octave", net
    if (move >= 0).all() or (move <= 0).all():
        return ("rising" if net > 0 else "falling"), net
    return "moving", net
