"""On which root does a loop stand, eighth by eighth, and how sure is that?

The decoder is the one for MIDI (`basslint.hear.harmony`), with scales of its own: what is heard
softly needs other weights than what is written, and strokes say more, as the ear smears what sounds
on. A loop comes round, so it is decoded as a circle.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from basslint.audio.tuning import Tuning, other_reading
from basslint.hear.harmony.accents import metrical_accents
from basslint.hear.harmony.chords import evidence, hearing, quality_share
from basslint.hear.harmony.hmm import posterior
from basslint.hear.harmony.loop import mean_of_repeats
from basslint.hear.harmony.segments import Segments

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Real = TypeVar("Real", np.float32, np.float64)

# Scales, against MIDI, of what sounds, is struck, is lowest where that lies low, and high.
_SCALES = np.repeat([0.94, 2.57, 2.74, 2.97], 12).astype(np.float32)
_REPEATS = 0.15  # say of the bars that repeat one, against MIDI: their faults are not independent
# Log-odds of a change on a bar line, half bar, beat, eighth between; what speaks for one: strokes
# (0..1), other pitch classes than before (0..1).
_CHANGE = np.array([2.9, 1.7, 0.1, -3.1])
_CHANGE_ONSETS, _CHANGE_TURN = 0.42, 0.65
_SAME_ROOT = 0.035  # share of chord changes that only change the quality
_LEAD_IN = 16  # eighths that the circle is decoded beyond its seam: two bars
_UNKNOWN = 0.999  # chance of a change before the lead-in: any chord may have been before

_NO_DOUBT = 0.005  # of a reading below which it is left out


def decode_loop(segments: Segments, weight: Floats) -> tuple[Singles, Singles]:
    """Chance of each root, float32 [n, 12], and of each quality on the likeliest, [n, qualities].

    ``weight`` float64 [n], 0..1: how far each eighth's evidence counts.
    """
    heard = hearing(segments)
    heard += np.float32(_REPEATS) * mean_of_repeats(heard, segments)
    heard *= _SCALES * weight[:, None].astype(np.float32)
    odds = (
        _CHANGE[metrical_accents(segments)]
        + _CHANGE_ONSETS * segments.onsets
        + _CHANGE_TURN * segments.harmonic_change
    )
    n = len(heard)
    around = np.arange(-_LEAD_IN, n + _LEAD_IN) % n
    change = (1.0 / (1.0 + np.exp(-odds)))[around]
    change[0] = _UNKNOWN
    by_root, of_best = posterior(heard[around], evidence, change, quality_share(), _SAME_ROOT)
    return by_root[_LEAD_IN : _LEAD_IN + n], of_best[_LEAD_IN : _LEAD_IN + n]


def mix_readings(chance: NDArray[Real], tuning: Tuning) -> NDArray[Real]:
    """Chance of each pitch class [n, 12] where the notes may be meant a semitone further on.

    A loop 48 cents sharp is as likely one 52 cents flat of the next note: near a quarter tone both
    readings count, each as likely as it is.
    """
    other = other_reading(tuning)
    if other < _NO_DOUBT:
        return chance
    moved = np.roll(chance, 1 if tuning.cents > 0 else -1, axis=1)
    return np.asarray((1.0 - other) * chance + other * moved, dtype=chance.dtype)
