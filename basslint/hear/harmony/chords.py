"""How well does each chord explain what sounds in each segment?

A log-linear model: every pitch class that sounds, is struck or lies lowest speaks for the chords
in which it is a tone and against the others, with a weight for what it would be there (root, third,
fifth, seventh, foreign). The weights are few because each holds for all chords and all keys; they
were fitted by maximum conditional likelihood on hand-corrected chords of pop songs (see
``tests/bench/hearing_roots.py``), half with all notes, half without the low ones, with and without
transcription faults.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.segments import Segments
from basslint.theory.chords import QUALITIES, TONES

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]  # ample for log-weights, and twice as fast

_FOREIGN, _NINTH = 4, 5  # roles beside the tones' own, 0 to 3
_WHOLE_TONE = 2  # semitones: the ninth, octave taken off
_WITH_NINTH = ("major", "minor", "dominant-7", "minor-7", "major-7")  # C9, Am9, Cadd9: a colour

# Weight of a pitch class as root, third, fifth, seventh, as no tone of the chord, and as a ninth:
# the last by hand, small enough that on the same songs the roots lose no more than .002.
_SOUNDING = np.array([0.55, 0.65, 0.50, 0.50, 0.0, 0.1])
_STRUCK = np.array([0.45, 0.40, 0.45, 0.25, 0.0, 0.1])
_BASS_LOW = np.array([1.30, 0.90, 1.00, 0.50, 0.0, 0.2])  # lowest pitch, where it lies low
_BASS_HIGH = np.array([0.45, 0.50, 0.70, 0.35, 0.0, 0.1])  # lowest pitch, where it lies high
# Log-weight of each quality: how common it is, and how easily other chords look like it.
_PRIOR = np.array([0.0, 0.0, -0.3, -0.5, -0.6, -0.6, -0.6, -2.0, -0.3, -2.0, -2.0])


def _role_table() -> NDArray[np.int64]:
    """Role of each pitch class in each chord, [qualities, 12, 12]: 0..3 a tone, 4 none, 5 ninth."""
    table = np.full((len(QUALITIES), 12, 12), _FOREIGN)
    for root in range(12):
        for quality, (name, tones) in enumerate(TONES.items()):
            if name in _WITH_NINTH:
                table[quality, root, (root + _WHOLE_TONE) % 12] = _NINTH
            for role, tone in enumerate(tones):
                table[quality, root, (root + tone) % 12] = role
    return table


_ROLE = _role_table()
_WEIGHTS = np.concatenate(
    [roles[_ROLE] for roles in (_SOUNDING, _STRUCK, _BASS_LOW, _BASS_HIGH)],
    axis=2,
    dtype=np.float32,
).reshape(12 * len(QUALITIES), -1)
_BY_CHORD = np.ascontiguousarray(_WEIGHTS.T)  # [48, chords]: as the product reads it
_PRIORS = np.repeat(_PRIOR, 12).astype(np.float32)


def quality_share() -> Floats:
    """How likely each quality is after a change of chord, [qualities], sum 1."""
    share = np.exp(_PRIOR)
    return np.asarray(share / share.sum())


def hearing(segments: Segments) -> Singles:
    """What speaks in each segment, [n, 48]: sounding, struck, low and high bass by pitch class."""
    depth = segments.depth[:, None]
    heard = np.empty((len(segments), 4 * 12), dtype=np.float32)
    heard[:, :12], heard[:, 12:24] = segments.sounding, segments.struck
    np.multiply(segments.bass, depth, out=heard[:, 24:36])
    np.multiply(segments.bass, 1.0 - depth, out=heard[:, 36:])
    return heard


def evidence(heard: Singles) -> Singles:
    """Log-weight of each chord in each segment, [n, qualities · 12 roots].

    ``heard`` [n, 48] as from `hearing`.
    """
    score = heard @ _BY_CHORD
    score += _PRIORS
    return np.asarray(score)
