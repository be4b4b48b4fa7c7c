"""What speaks for a note in each eighth: its own salience, its neighbours', what was before?

The columns that `basslint.audio.chances` weighs, the same for every note. Their names stand in the
table of weights, so that a table that was fitted on other columns is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.notes import FIRST_NOTE, NOTES
from basslint.audio.spectra import FRAME_S, LOWEST, PER_SEMITONE
from basslint.audio.strokes import EARLY_S, LATE_S, STROKE_S, hard_stroke

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

# Semitones at which a tone is taken for another: octaves, twelfths, fifths, two octaves and a
# third (its overtones and those of which it may be one), and the notes beside it.
_MISTAKEN = (-24, -19, -12, -7, -2, -1, 1, 2, 7, 12, 19, 24, 28)
_MISTAKEN_RISE = (-12, -1, 1, 12)
_REACH = 36  # semitones of silence added to either side: more than the farthest of them
_HARDEST = 1.5  # of that: a single crash is no harder
_SMALL = 0.2  # brings sums over many notes to the size of the other columns


def pooled(values: Singles, edges_s: Floats) -> Singles:
    """Mean of ``values`` [frames, d] over the time between neighbouring edges, [n, d].

    ``edges_s`` [n + 1] rising seconds; frame k lasts half a frame to either side of k * `FRAME_S`
    seconds. What lies outside the frames counts as its nearest frame.
    """
    total = np.zeros((len(values) + 1, values.shape[1]))
    np.cumsum(values, axis=0, out=total[1:])
    at = np.clip(edges_s / FRAME_S + 0.5, 0.0, len(values))
    row = np.minimum(at.astype(np.int64), len(values) - 1)
    until = total[row] + (at - row)[:, None] * values[row]
    width = np.diff(at)[:, None]
    mean = np.diff(until, axis=0) / np.maximum(width, 1e-9)
    return np.where(width > 1e-9, mean, values[row[:-1]]).astype(np.float32)


def features(salience: Singles, white: Singles, strength: Singles, edges_s: Floats) -> Singles:
    """What speaks for each note in each eighth, float32 [n, `NOTES`, features], about 0..3 each.

    ``salience`` [frames, `NOTES`] and ``white`` [frames, bins] as from `saliences` and `whiten`,
    ``strength`` as from `stroke_strength`, ``edges_s`` [n + 1] seconds. The eighths are taken as a
    circle: what is before the first is the last.
    """
    columns = _columns(salience, white, strength, edges_s)
    return np.stack(list(columns.values()), axis=2)


def feature_names() -> tuple[str, ...]:
    """Names of the features in their order."""
    nothing = np.zeros((1, NOTES), np.float32)
    white = np.zeros((1, (NOTES + FIRST_NOTE - LOWEST) * PER_SEMITONE), np.float32)
    return tuple(_columns(nothing, white, np.zeros(1, np.float32), np.array([0.0, 1.0])))


def _columns(
    salience: Singles, white: Singles, strength: Singles, edges_s: Floats
) -> dict[str, Singles]:
    """The features by name, each [n, `NOTES`]."""
    n = len(edges_s) - 1
    halves = np.interp(np.arange(2 * n + 1) / 2.0, np.arange(n + 1), edges_s)
    both = _even(pooled(salience, halves))
    first, second = np.sqrt(both[0::2]), np.sqrt(both[1::2])
    now = np.float32(0.5) * (first + second)
    rise = first - np.roll(second, 1, axis=0)
    centre = (FIRST_NOTE - LOWEST + np.arange(NOTES)) * PER_SEMITONE + PER_SEMITONE // 2
    below = np.cumsum(now, axis=1) - now
    above = now.sum(axis=1, keepdims=True) - below - now
    hit = np.repeat(_near_edges(strength, edges_s)[:, None], NOTES, axis=1)
    height = np.tile(np.arange(NOTES, dtype=np.float32) / NOTES, (n, 1))
    columns = {
        "first half": first,
        "second half": second,
        "second half before": np.roll(second, 1, axis=0),
        "first half after": np.roll(first, -1, axis=0),
        "rise": rise,
        "eighth before": np.roll(now, 1, axis=0),
        "eighth after": np.roll(now, -1, axis=0),
        "two before": np.roll(now, 2, axis=0),
        "two after": np.roll(now, -2, axis=0),
        "fundamental": np.sqrt(_even(pooled(white[:, centre], edges_s))),
        "whole loop": np.tile(now.mean(axis=0), (n, 1)),
        "below": np.float32(_SMALL) * below,
        "above": np.float32(_SMALL) * above,
        "height": height,
        "height squared": height**2,
        "loudest note": np.repeat(now.max(axis=1, keepdims=True), NOTES, axis=1),
        "stroke": hit,
        "stroke after": np.roll(hit, -1, axis=0),
        "stroke times rise": hit * rise,
    }
    columns |= _shifted(now, _MISTAKEN, "note")
    columns |= _shifted(rise, _MISTAKEN_RISE, "rise")
    return columns


def _even(values: Singles) -> Singles:
    """``values`` [n, d] in units of the mean length of its rows: loud or soft, loops are alike."""
    length = float(np.sqrt((values.astype(np.float64) ** 2).sum(axis=1)).mean())
    return np.asarray(values / np.float32(max(length, 1e-9)), dtype=np.float32)


def _shifted(values: Singles, steps: tuple[int, ...], name: str) -> dict[str, Singles]:
    """What the notes so many semitones away have, 0 outside the range."""
    padded = np.pad(values, ((0, 0), (_REACH, _REACH)))
    return {f"{name} {k:+d}": padded[:, _REACH + k : _REACH + k + NOTES] for k in steps}


def _near_edges(strength: Singles, edges_s: Floats) -> Singles:
    """The hardest stroke near the beginning of each eighth, against the hard ones of the loop."""
    top = hard_stroke(strength)
    result = np.zeros(len(edges_s) - 1, dtype=np.float32)
    for row, edge in enumerate(edges_s[:-1].tolist()):
        begin = max(int((edge - EARLY_S) / STROKE_S), 0)
        until = max(int((edge + LATE_S) / STROKE_S), 0) + 1
        result[row] = strength[begin:until].max(initial=0.0)
    return np.asarray(np.minimum(result / np.float32(top), _HARDEST), dtype=np.float32)
