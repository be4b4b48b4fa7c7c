"""Where does the sound move from one chord to the next without a step?

Within a glide every voice draws a slanted line through the spectrum. Short lines are laid through
each point, level and slanted (a Hough transform in small: Hough 1962); a point moves as far as its
best slanted line is stronger throughout than its level one.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from basslint.audio.eighths import pooled
from basslint.audio.spectra import FRAME_S, PER_SEMITONE, bin_pitch
from basslint.audio.strokes import STROKE_S
from basslint.util.records import record

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

_FROM_PITCH = 55  # G3 (196 Hz): below, a window of a third of a second blurs what moves
_SLOPES = (
    1.5,
    2.5,
    4.0,
    6.0,
    9.0,
    13.0,
)  # semitones a second: a tone in a beat to an octave in one
_LEVEL_SLOPE = 0.45  # semitones a second that vibrato and a turntable's wow reach: still level
_AT = (-4, -2, 0, 2, 4)  # frames looked at along a line: 0.37 s, less than a beat of most tempi
_BESIDE = 0.8  # of a neighbouring bin that counts as on the line
_SOFT = 0.3  # of the mean spectrum added to the level strength: in silence nothing moves
_HARD = 0.98  # quantile of the stroke strength that counts as a hard stroke
_EARLY_S, _LATE_S = 0.035, 0.06  # before and after an edge a stroke belongs to it
_AGAINST = 0  # column of `glide_features`: the mean of moving against standing
_PARTS = 3  # of an eighth, in which movement is averaged
_MOST_ODDS = 40.0  # log-odds: beyond, a chance is 0 or 1 to every digit
# Strength of what moves against what stands, from which on the stretch may be a glide at all: of 88
# rendered ones all that are told have .39 or more, a recorded piano's soft changes .28 at most.
_MOVES = 0.33
_LIKELY = 0.03  # chance from which a stretch is told as moving: 0.5 false ones in 100 beats


@record(eq=False)
class Glides:
    """Stretches in which the chord moves, in order; columns [n].

    ``start``, ``end`` int64 eighths from the beginning of the loop; ``chance`` float64 0..1.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    chance: Floats

    def __len__(self) -> int:
        return len(self.start)

    def between(self, root: NDArray[np.intp], heard: NDArray[np.bool_]) -> Glides:
        """The glides from one ``root`` [n] to another that begin where a harmony is ``heard`` [n].

        What comes back to the chord it left has trembled, or was struck again.
        """
        n = len(root)
        keep = heard[self.start] & (root[self.start - 1] != root[self.end % n])
        return Glides(self.start[keep], self.end[keep], self.chance[keep])


def movement(white: Singles) -> Singles:
    """How much moves and how much stands in each frame, float32 [frames, 4].

    Columns: moving against standing, moving, standing, all, the last three in units of the mean of
    the whole. ``white`` as from `whiten`.
    """
    part = white[:, int(np.searchsorted(bin_pitch(), _FROM_PITCH)) :]
    near = part.copy()
    beside = np.float32(_BESIDE) * np.maximum(part[:, :-2], part[:, 2:])
    np.maximum(part[:, 1:-1], beside, out=near[:, 1:-1])
    level = _line(near, 0.0)
    for slope in (_LEVEL_SLOPE, -_LEVEL_SLOPE):
        np.maximum(level, _line(near, slope), out=level)
    slant = np.zeros_like(near)
    for slope in _SLOPES:
        np.maximum(slant, _line(near, slope), out=slant)
        np.maximum(slant, _line(near, -slope), out=slant)
    moves = np.maximum(slant - level, 0.0).sum(axis=1)
    stands, whole = level.sum(axis=1), part.sum(axis=1)
    mean = np.float32(max(float(whole.mean()), 1e-9))
    against = moves / (stands + np.float32(_SOFT) * mean)
    return np.stack((against, moves / mean, stands / mean, whole / mean), axis=1)


def _line(near: Singles, slope: float) -> Singles:
    """The weakest point along a line through each bin, ``slope`` in semitones a second."""
    frames, reach = len(near), max(_AT)
    padded = np.pad(near, ((reach, reach), (0, 0)))
    weakest: Singles | None = None
    for step in _AT:
        shift = round(slope * step * FRAME_S * PER_SEMITONE)
        row = padded[reach + step : reach + step + frames]
        if shift > 0:
            row = np.pad(row[:, shift:], ((0, 0), (0, shift)))
        elif shift < 0:
            row = np.pad(row[:, :shift], ((0, 0), (-shift, 0)))
        weakest = row.copy() if weakest is None else np.minimum(weakest, row, out=weakest)
    assert weakest is not None
    return weakest


def glide_features(moving: Singles, strength: Singles, edges_s: Floats) -> Floats:
    """What speaks for a glide of two eighths that begins at each one, float64 [n, features].

    ``moving`` as from `movement`, ``strength`` as from `stroke_strength`, ``edges_s`` [n + 1]. The
    loop is taken as a circle.
    """
    n = len(edges_s) - 1
    fine = np.interp(np.arange(_PARTS * n + 1) / _PARTS, np.arange(n + 1), edges_s)
    part = pooled(moving, fine).reshape(n, _PARTS, -1).astype(np.float64)
    both = np.concatenate((part, np.roll(part, -1, axis=0)), axis=1)  # [n, 2 eighths, columns]
    against = np.sort(both[:, :, 0], axis=1)
    before, after = np.roll(part, 1, axis=0), np.roll(part, -2, axis=0)
    edge, inside = _strokes(strength, edges_s)
    columns = [
        against.mean(axis=1),
        *(against[:, k] for k in (0, 2, 4, 5)),
        before[:, :, 0].mean(axis=1),
        after[:, :, 0].mean(axis=1),
        np.full(n, np.median(part[:, :, 0])),
        np.full(n, np.quantile(part[:, :, 0], 0.9)),
        both[:, :, 1].mean(axis=1),
        both[:, :, 2].mean(axis=1),
        before[:, :, 2].mean(axis=1),
        after[:, :, 2].mean(axis=1),
        both[:, :, 3].mean(axis=1),
        edge,
        np.roll(edge, -1),
        np.roll(edge, -2),
        inside,
        np.roll(inside, -1),
    ]
    table = np.stack(columns, axis=1)
    return np.concatenate((table, table[:, :5] ** 2), axis=1)


def _strokes(strength: Singles, edges_s: Floats) -> tuple[Floats, Floats]:
    """The hardest stroke at the beginning of each eighth and inside it, against hard ones."""
    top = max(float(np.quantile(strength, _HARD)), 1e-3)

    def hardest(begin: float, until: float) -> float:
        first = max(int(begin / STROKE_S), 0)
        return float(strength[first : max(int(until / STROKE_S) + 1, first + 1)].max(initial=0.0))

    edge = [hardest(a - _EARLY_S, a + _LATE_S) for a in edges_s[:-1].tolist()]
    inside = [
        hardest(a + _LATE_S, max(b - _EARLY_S, a + _LATE_S))
        for a, b in zip(edges_s[:-1].tolist(), edges_s[1:].tolist(), strict=True)
    ]
    return np.array(edge) / top, np.array(inside) / top


@cache
def _weights() -> Floats:
    text = resources.files("basslint.audio").joinpath("glides.json").read_text(encoding="utf-8")
    return np.array(json.loads(text)["weights"])


def hear_glides(moving: Singles, strength: Singles, edges_s: Floats) -> Glides:
    """Where the chord moves; arguments as for `glide_features`."""
    table = glide_features(moving, strength, edges_s)
    weights = _weights()
    odds = np.clip(table @ weights[1:] + weights[0], -_MOST_ODDS, _MOST_ODDS)
    chance = 1.0 / (1.0 + np.exp(-odds))
    n = len(chance)
    moves = table[:, _AGAINST] >= _MOVES
    peak = (
        moves
        & (chance >= _LIKELY)
        & (chance >= np.roll(chance, 1))
        & (chance >= np.roll(chance, -1))
    )
    begin = np.flatnonzero(peak)
    # two windows that overlap are one glide: the likelier begins it
    keep = np.ones(len(begin), dtype=bool)
    for row in range(1, len(begin)):
        if begin[row] - begin[row - 1] < 2 and keep[row - 1]:
            weaker = row if chance[begin[row]] <= chance[begin[row - 1]] else row - 1
            keep[weaker] = False
    begin = begin[keep]
    return Glides(begin, np.minimum(begin + 2, n), chance[begin])
