"""On which root does each eighth of a loop stand, heard within a key that is not known before?

A hidden Markov model whose states are chords within keys (forward-backward, Rabiner 1989; keys as
hidden states beside the chords: Raphael and Stoddard 2004, Functional harmonic analysis using
probabilistic models). Without its low notes a chord has few marks of its root: which chords belong
to a key, and which follow each other there, say as much as the notes. How common that is was
counted in songs, and what a tone says of a chord was fitted on their notes: see `chords.json`.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from basslint.theory.chords import QUALITIES
from basslint.util.records import record

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

_OTHER_KEY = 0.01  # chance that a new chord begins another key: once in a hundred chords
_ROOT = (np.arange(12)[:, None] + np.arange(12)) % 12  # of each degree in each key, [key, degree]
# From the degrees of all keys to the roots they are, [key · degree, root].
_TO_ROOT = (_ROOT.ravel()[:, None] == np.arange(12)).astype(np.float32)


@record(eq=False, kw_only=True)
class ChordTable:
    """Degrees are semitones above the tonic of the major key of a signature: A minor counts as C.

    ``evidence`` float32 [48, q · 12]: log-weight of what is heard, as from `hearing`, for each
    chord (quality, root). ``degrees`` float32 [12]: how common a root on each degree is.
    ``following`` [12, 12]: chance of each degree after another one, 0 on the diagonal.
    ``qualities`` [q, 12]: chance of each quality on each degree.
    """

    evidence: Singles
    degrees: Singles
    following: Singles
    qualities: Singles


@cache
def chord_table() -> ChordTable:
    """The fitted table."""
    text = resources.files("basslint.audio").joinpath("chords.json").read_text(encoding="utf-8")
    stored = json.loads(text)
    assert tuple(stored["evidence"]) == tuple(QUALITIES), "chords.json names other qualities"
    # by interval above the root: [q, 4 kinds of hearing, 12]
    above = np.array(list(stored["evidence"].values()), dtype=np.float32)
    interval = (np.arange(12) - np.arange(12)[:, None]) % 12  # [root, pitch class]
    by_class = above[:, :, interval].transpose(1, 3, 0, 2)
    return ChordTable(
        evidence=np.ascontiguousarray(by_class.reshape(48, -1)),
        degrees=np.array(stored["degrees"], dtype=np.float32),
        following=np.array(stored["following"], dtype=np.float32),
        qualities=np.array(list(stored["qualities"].values()), dtype=np.float32),
    )


def roots_in_keys(heard: Singles, change: Floats, same: float) -> Singles:
    """Posterior of each root in each eighth, float32 [n, 12].

    ``heard`` [n, 48]: what speaks in each eighth. ``change`` [n]: chance that the chord changes
    where it begins. ``same``: chance that a change keeps the root (and may change the quality).
    """
    table = chord_table()
    weight = heard @ table.evidence
    weight -= weight.max(axis=1, keepdims=True)
    likely = np.exp(weight, out=weight).reshape(len(heard), -1, 12)[:, :, _ROOT]
    joint = _joint(np.ascontiguousarray(likely), change.astype(np.float32), same, table)
    by_root = joint.sum(axis=1).reshape(len(heard), -1) @ _TO_ROOT
    return np.asarray(by_root / by_root.sum(axis=1, keepdims=True))


def _joint(likely: Singles, change: Singles, same: float, table: ChordTable) -> Singles:
    """Weight of each chord in each key beside the others of its eighth, [n, q, 12 keys, 12].

    ``likely`` [n, q, 12 keys, 12 degrees]: weight of each chord by what is heard there.
    """
    quality = table.qualities[:, None, :]  # [q, any key, degree]
    chance = np.float32(1.0 - same) * table.following
    chance[np.diag_indices(12)] = np.float32(same)
    onward = np.float32(1.0 - _OTHER_KEY) * chance
    anywhere = np.float32(_OTHER_KEY / 12) * table.degrees
    stay = 1.0 - change
    joint = np.empty_like(likely)
    now = np.broadcast_to(table.degrees * quality / np.float32(12), likely.shape[1:])
    for row in range(len(likely)):  # forward: `now` sums to 1
        arrived = now.sum(axis=0) @ onward + anywhere
        now = (stay[row] * now + change[row] * arrived * quality) * likely[row]
        now /= now.sum()
        joint[row] = now
    after = np.ones(likely.shape[1:], dtype=np.float32)
    for row in range(len(likely) - 1, -1, -1):  # backward: only the shape of `after` counts
        joint[row] *= after
        after *= likely[row]
        left = (after * quality).sum(axis=0)
        leads = left @ onward.T + (anywhere * left).sum()
        after = stay[row] * after + change[row] * leads
        after /= after.max()
    return joint
