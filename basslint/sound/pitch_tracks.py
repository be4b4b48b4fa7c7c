"""Which pitch do two independent methods hear in a sound, moment by moment?

Each is blind where the other sees: what repeats itself (`periodicity`) is unsure of the octave of a
bare tone, the sum over overtones (`harmonic_sum`) is unsure where overtones are few. Only moments
at which both hear the same speak for a pitch.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.sound.harmonic_sum import WINDOW_S, lines_up
from basslint.sound.periodicity import CANDIDATES_HZ, CENTS, REACH_S, repeats
from basslint.util.records import record

Floats = NDArray[np.float64]

EVERY_S = 0.02  # a moment: fine enough to follow a drop of 30 ms by two of them
_MOST_MOMENTS = 90  # of a long sound they lie further apart: the cost stays the same
SAME_CENTS = 90.0  # less than a semitone: while a pitch falls the longer window lags behind
_STANDS_OUT = 0.1  # of an exact repeat
_CLEAR = 0.55  # of an exact repeat: less is as much noise as tone (measured on drawn sounds)


@record(eq=False)
class Tracks:
    """Two pitch tracks, float64 [k] each: ``time`` s, ``repeat`` and ``overtone`` Hz by either
    method, ``clarity`` how well the sound repeats itself (1: exactly), ``fit`` how well the
    overtones line up; ``agree`` bool [k]: both hear the same, clearly.
    """

    time: Floats
    repeat: Floats
    overtone: Floats
    clarity: Floats
    fit: Floats

    @property
    def agree(self) -> NDArray[np.bool_]:
        """Moments at which both methods hear the same pitch, clearly."""
        apart = np.abs(cents(self.repeat, self.overtone))
        return np.asarray((apart <= SAME_CENTS) & (self.clarity >= _CLEAR))


def cents(hz: Floats | float, reference: Floats | float) -> Floats:
    """How far frequencies lie above a reference, in cents."""
    return np.asarray(1200.0 * np.log2(np.asarray(hz) / np.asarray(reference)))


def track(even: Floats, rate: float, first: int, last: int) -> Tracks:
    """Follow the pitch of a sound between two samples, ``even`` float64 [n] with its decay undone.

    No moments where the stretch is shorter than one autocorrelation needs.
    """
    reach = round(REACH_S * rate)
    if last - first < reach:
        none = np.zeros(0)
        return Tracks(none, none, none, none, none)
    step = max(EVERY_S * rate, (last - first) / _MOST_MOMENTS)
    middle = np.arange(first, last, step)
    short = _cut(even, middle, reach, first, last)
    long = _cut(even, middle, min(round(WINDOW_S * rate), last - first), first, last)
    repeat, clarity = _peaks(repeats(short, rate))
    overtone, fit = _peaks(lines_up(long, rate))
    return Tracks(middle / rate, repeat, overtone, clarity, fit)


def _cut(even: Floats, middle: Floats, size: int, first: int, last: int) -> Floats:
    """Stretches of ``size`` samples around moments, pushed inside the sound, [k, size]."""
    begin = np.clip(np.rint(middle).astype(int) - size // 2, first, last - size)
    return np.asarray(even[begin[:, None] + np.arange(size)])


def _peaks(strength: Floats) -> tuple[Floats, Floats]:
    """The strongest peak of each moment (Hz), between its neighbours, and its strength.

    A peak stands out from some valley at a higher pitch: any low tone is like itself a very short
    time later, which is no pitch.
    """
    inner = strength[:, 1:-1]
    valley = np.minimum.accumulate(strength[:, ::-1], axis=1)[:, ::-1][:, 2:]
    peak = (inner >= strength[:, :-2]) & (inner >= strength[:, 2:]) & (inner > valley + _STANDS_OUT)
    best = 1 + np.where(peak, inner, -np.inf).argmax(axis=1)
    row = np.arange(len(best))
    left, middle, right = (strength[row, best + side] for side in (-1, 0, 1))
    bend = left - 2 * middle + right
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend < 0, 0.5 * (left - right) / bend, 0.0)
    hz = CANDIDATES_HZ[best] * 2 ** (np.clip(shift, -1, 1) * CENTS / 1200)
    return np.asarray(hz), np.asarray(middle)
