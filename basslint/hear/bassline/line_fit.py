"""How well does a bass line as a whole fit the other parts, moved by each number of semitones?"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.accompaniment import Accompaniment
from basslint.hear.bassline.shift import (
    AS_WRITTEN,
    LEAST_FIT,
    PART,
    SHIFTS,
    STEP,
    WEIGHTS,
    fewest_tones,
    fit_of_notes,
)
from basslint.song.events import Notes
from basslint.util.columns import TINY, distinct
from basslint.util.records import record

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@record(eq=False)
class Fit:
    """How well a line fits under each of `SHIFTS`: ``odds`` [12] log odds, ``support`` [12] share
    of it that others sound; ``notes``, ``quarters`` and pitch classes (``tones``) of it under
    harmony."""

    odds: Floats
    support: Floats
    notes: int
    quarters: float
    tones: int

    def may_move(self, semitones: int) -> bool:
        """Whether the line has enough pitch classes for a shift of it to show."""
        return self.tones >= fewest_tones(semitones)

    def is_clear(self, semitones: int, over: Iterable[int]) -> bool:
        """Whether a line moved by so much fits by itself and beats those moved by ``over``."""
        row = (semitones + AS_WRITTEN) % len(SHIFTS)
        far = min(abs((semitones - other + 5) % 12 - 5) for other in over)
        least = PART.lead + PART.farther * (far > STEP)
        beaten = max(self.odds[(other + AS_WRITTEN) % len(SHIFTS)] for other in over)
        enough = self.notes >= PART.notes and self.quarters >= PART.quarters
        enough &= self.may_move(semitones)
        return bool(enough and self.odds[row] - beaten >= least and self.support[row] >= LEAST_FIT)


def fit_of_line(bass: Notes, around: Accompaniment, root: Ints, division: int) -> Fit:
    """How well all of a line fits under each shift; its arguments as for `hear_shifts`."""
    value, weight = fit_of_notes(bass, around, root, division)
    mean = value.sum(axis=0) / max(float(weight.sum()), TINY)
    heard = weight > 0
    tones = len(distinct(bass.pitch[heard] % 12))
    return Fit(mean @ WEIGHTS, mean[:, 0], int(heard.sum()), float(weight.sum()), tones)
