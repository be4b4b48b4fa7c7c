"""Where only the root of a chord is known, which chord may it be?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.theory.chords import IS_TONE, QUALITIES

# Share of the time of each quality of chord: triads and suspensions as measured on the labelled
# chords of pop songs (every sixth one, tests/bench), sevenths, which beats have more of, by
# judgement.
_SHARE = {
    "major": 0.4,
    "minor": 0.33,
    "dominant-7": 0.06,
    "minor-7": 0.09,
    "major-7": 0.06,
    "suspended-4": 0.02,
    "suspended-2": 0.025,
    "diminished": 0.005,
    "half-diminished": 0.005,
    "diminished-7": 0.003,
    "augmented": 0.002,
}
CHORD_SHARE = np.array([_SHARE[quality] for quality in QUALITIES])  # [qualities], sum 1

# chance that a chord takes a tone from outside the scale: of .02 to .3 the value whose chances fit
# the labelled chords of pop songs best (every sixth; major thirds do so in .11, minor in .01)
_FOREIGN = 0.05
_FIFTH = 7  # semitones; in nearly all chords
_ABOVE = np.arange(12)


def usual_tones(
    root: NDArray[np.integer], fit: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """Chance that a chord on each root holds the tone so many semitones above it, [n, 12].

    Chords are as usual, and made of the scale as far as that is known: ``fit`` [n, 12] is the
    chance that each pitch class is one of it (`Keys.fit`), none where nothing is known of it.
    """
    if fit is None:
        return np.tile(CHORD_SHARE @ IS_TONE, (len(root), 1))
    return usual_qualities(root, fit) @ IS_TONE


def usual_qualities(root: NDArray[np.integer], fit: NDArray[np.float64]) -> NDArray[np.float64]:
    """Chance of each of `QUALITIES` over each root in a scale, [n, qualities]; as `usual_tones`."""
    of_root = np.take_along_axis(fit, (root.astype(np.int64)[:, None] + _ABOVE) % 12, axis=1)
    weight = np.log(np.maximum(of_root, _FOREIGN)) @ IS_TONE.T + np.log(CHORD_SHARE)
    share = np.exp(weight - weight.max(axis=1, keepdims=True))
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def with_fifths(bare: NDArray[np.bool_], tones: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tones of chords as `Roots.tones`, [n, 12], the usual fifth over each root alone."""
    full = tones.copy()
    full[bare, _FIFTH] = True
    return full
