"""On which root does a loop stand, eighth by eighth, and how sure is that?

The decoder is one for loops (`basslint.audio.progressions`), as what is heard softly needs other
weights than what is written, and as a loop is often without the low notes that tell a root. Beside
it the one for MIDI hears the same, each chord by its own notes: a key decides what they leave open,
and is no witness where a full mix borrows chords, stands on a riff or strikes two notes alone. What
both have in common is told. A loop comes round, so it is decoded as a circle.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from basslint.audio.progressions import roots_in_keys
from basslint.audio.tuning import Tuning, other_reading
from basslint.hear.harmony.accents import metrical_accents
from basslint.hear.harmony.chords import evidence, hearing, quality_share
from basslint.hear.harmony.hmm import posterior
from basslint.hear.harmony.loop import mean_of_repeats
from basslint.hear.harmony.segments import Segments

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Real = TypeVar("Real", np.float32, np.float64)

# Scales, against notes that are written, of what sounds, is struck, is lowest where that lies low,
# and high: for roots, and for the qualities on them. These and the numbers below were fitted on
# renders (tests/bench/fit_loops.py); those for roots then taken down by a tenth, as the songs of
# these renders are among those of the chord table, and what is fitted on itself is too sure.
_SCALES = np.repeat([1.03, 1.89, 1.62, 2.27], 12).astype(np.float32)
# More of them where no key speaks with the notes: 27 finished pieces and 288 renders then tell as
# much as by keys alone, and what is told surely is wrong in 328 eighths instead of 381.
_ALONE = np.float32(1.2)
_QUALITY_SCALES = np.repeat([0.94, 2.57, 2.74, 2.97], 12).astype(np.float32)
_REPEATS = 0.11  # say of the bars that repeat one, against itself: their faults are not independent
# Log-odds of a change on a bar line, half bar, beat, eighth between; what speaks for one: strokes
# (0..1), other pitch classes than before (0..1).
_CHANGE = np.array([3.4, 1.7, -0.7, -1.7])
_CHANGE_ONSETS, _CHANGE_TURN = 0.12, 1.29
_SAME_ROOT = 0.035  # share of chord changes that only change the quality
_LEAD_IN = 16  # eighths that the circle is decoded beyond its seam: two bars
_UNKNOWN = 0.999  # chance of a change before the lead-in: any chord may have been before

_LEAST = np.float32(1e-9)  # chance of a root that a hearing rules out: the other may be sure of it
_RULED_OUT = -50.0  # log-weight of chords on other roots than the one heard: never mind the rest
_NO_DOUBT = 0.005  # of a reading below which it is left out


def decode_loop(segments: Segments, weight: Floats) -> tuple[Singles, Singles]:
    """Chance of each root, float32 [n, 12], and of each quality on the likeliest, [n, qualities].

    ``weight`` float64 [n], 0..1: how far each eighth's evidence counts.
    """
    heard = hearing(segments)
    heard += np.float32(_REPEATS) * mean_of_repeats(heard, segments)
    heard *= weight[:, None].astype(np.float32)
    odds = (
        _CHANGE[metrical_accents(segments)]
        + _CHANGE_ONSETS * segments.onsets
        + _CHANGE_TURN * segments.harmonic_change
    )
    n = len(heard)
    around = np.arange(-_LEAD_IN, n + _LEAD_IN) % n
    change = (1.0 / (1.0 + np.exp(-odds)))[around]
    change[0] = _UNKNOWN
    rows = heard[around] * _SCALES
    alone, _ = posterior(rows * _ALONE, evidence, change, quality_share(), _SAME_ROOT)
    by_root = agreed(roots_in_keys(rows, change, _SAME_ROOT), alone)
    of_best = _qualities(heard[around] * _QUALITY_SCALES, change, by_root)
    return by_root[_LEAD_IN : _LEAD_IN + n], of_best[_LEAD_IN : _LEAD_IN + n]


def agreed(one: Singles, other: Singles) -> Singles:
    """Chance of each root [n, 12] by two hearings together, 1 in all: their geometric mean, so that
    a root is sure where both are, and what only one of them takes for likely is in doubt.
    (Logarithmic pool: Genest and Zidek, Statistical Science 1, 1986.)
    """
    both = np.sqrt(np.maximum(one, _LEAST) * np.maximum(other, _LEAST))
    return np.asarray(both / both.sum(axis=1, keepdims=True))


def _qualities(heard: Singles, change: Floats, by_root: Singles) -> Singles:
    """Chance of each quality on the likeliest root of each eighth, [n, qualities].

    They are heard as those of MIDI are, on roots that are settled: the table for roots was fitted
    on roots alone, and what it takes for a quality need not be called so.
    """
    best = by_root.argmax(axis=1)
    allowed = np.where(np.arange(12) == best[:, None], 0.0, _RULED_OUT).astype(np.float32)
    kinds = len(quality_share())
    columns = heard.shape[1]

    def weigh(rows: Singles) -> Singles:
        return evidence(rows[:, :columns]) + np.tile(rows[:, columns:], kinds)

    rows = np.concatenate((heard, allowed), axis=1)
    _, of_best = posterior(rows, weigh, change, quality_share(), _SAME_ROOT)
    return np.asarray(of_best * by_root.max(axis=1, keepdims=True))


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
