"""Where does the sound move from one chord to the next without a step?

Within a glide every voice draws a slanted line through the spectrum. Short lines are laid through
each point, level and slanted (a Hough transform in small: Hough 1962); a point moves as far as its
best slanted line is stronger throughout than its level one. And what is on its way stands between
the notes of the scale for most of it, which chords that are struck never do.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from basslint.audio.eighths import pooled
from basslint.audio.spectra import FRAME_S, PER_SEMITONE, bin_pitch
from basslint.audio.strokes import EARLY_S, LATE_S, STROKE_S, hard_stroke
from basslint.util.records import record

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

_FROM_PITCH = 55  # G3 (196 Hz): below, a window of a third of a second blurs what moves
# Semitones a second: a tone in a beat to an octave in one.
_SLOPES = (1.5, 2.5, 4.0, 6.0, 9.0, 13.0)
_LEVEL_SLOPE = 0.45  # semitones a second that vibrato and a turntable's wow reach: still level
_AT = (-4, -2, 0, 2, 4)  # frames looked at along a line: 0.37 s, less than a beat of most tempi
_BESIDE = 0.8  # of a neighbouring bin that counts as on the line
_SOFT = 0.3  # of the mean spectrum added to the level strength: in silence nothing moves
_AGAINST = 0  # column of `glide_features`: the mean of moving against standing
_PARTS = 3  # of an eighth, in which movement is averaged
_OFF_NOTE = 0.1  # semitones: bins farther from a note lie between two
_MOST_ODDS = 40.0  # log-odds: beyond, a chance is 0 or 1 to every digit
# Strength of what moves against what stands, from which on the stretch may be a glide at all: a
# recorded piano's soft changes have .28 at most, 97 in 100 of the rendered glides more than that.
_MOVES = 0.25
_LIKELY = 0.07  # chance from which a stretch is told as moving: below 1 false in 100 beats
_SAME = 0.8  # chance that a stretch has one root before and after it, from which it has trembled


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

    def between(self, by_root: Floats | Singles, heard: NDArray[np.bool_]) -> Glides:
        """The glides from one chord to another that begin where a harmony is ``heard`` [n].

        What comes back to the root it left, by their chances ``by_root`` [n, 12], has trembled, or
        was struck again.
        """
        n = len(by_root)
        same = (by_root[self.start - 1] * by_root[self.end % n]).sum(axis=1)
        keep = heard[self.start] & (same < _SAME)
        return Glides(self.start[keep], self.end[keep], self.chance[keep])


def movement(white: Singles) -> Singles:
    """How much moves and how much stands in each frame, float32 [frames, 6].

    Columns: moving against standing, moving, standing, all, the last three in units of the mean of
    the whole; peaks between notes, all peaks. ``white`` as from `whiten`.
    """
    first = int(np.searchsorted(bin_pitch(), _FROM_PITCH))
    part = white[:, first:]
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
    between, peaks = _peaks(part, bin_pitch()[first:])
    return np.stack((against, moves / mean, stands / mean, whole / mean, between, peaks), axis=1)


def _peaks(part: Singles, pitch: Floats) -> tuple[Singles, Singles]:
    """Strength of the peaks that lie between two notes, and of all, float32 [frames] each."""
    here = part[:, 1:-1]
    peak = np.where((here > part[:, :-2]) & (here >= part[:, 2:]), here, np.float32(0.0))
    between = np.abs(pitch - np.rint(pitch))[1:-1] > _OFF_NOTE
    return peak[:, between].sum(axis=1), peak.sum(axis=1)


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
    off = part[:, :, 4] / np.maximum(part[:, :, 5], 1e-6)
    off_both = np.concatenate((off, np.roll(off, -1, axis=0)), axis=1)
    off_before = np.roll(off, 1, axis=0).mean(axis=1)
    off_after = np.roll(off, -2, axis=0).mean(axis=1)
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
    between_notes = [
        off_both.mean(axis=1),
        np.sort(off_both, axis=1)[:, 1],
        off_before,
        off_after,
        np.full(n, np.median(off)),
        off_both.mean(axis=1) - np.minimum(off_before, off_after),
    ]
    table = np.stack(columns, axis=1)
    more = np.stack(between_notes, axis=1)
    return np.concatenate((table, table[:, :5] ** 2, more), axis=1)


def _strokes(strength: Singles, edges_s: Floats) -> tuple[Floats, Floats]:
    """The hardest stroke at the beginning of each eighth and inside it, against hard ones."""
    top = hard_stroke(strength)

    def hardest(begin: float, until: float) -> float:
        first = max(int(begin / STROKE_S), 0)
        return float(strength[first : max(int(until / STROKE_S) + 1, first + 1)].max(initial=0.0))

    edge = [hardest(a - EARLY_S, a + LATE_S) for a in edges_s[:-1].tolist()]
    inside = [
        hardest(a + LATE_S, max(b - EARLY_S, a + LATE_S))
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
    if not len(begin):
        return Glides(begin, begin, chance[begin])
    # one that goes on where another ends is the same, however long it is
    first = np.flatnonzero(np.append(True, np.diff(begin) > 2))
    last = np.append(first[1:], len(begin)) - 1
    return Glides(
        begin[first], np.minimum(begin[last] + 2, n), np.maximum.reduceat(chance[begin], first)
    )
