"""Where only the root of a chord is known, which chord may it be?"""

from __future__ import annotations

import numpy as np

from basslint.theory.chords import QUALITIES

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
