"""Which key is the song in, when, and how sure is that?

First the seven notes in use, bar by bar (a Markov chain over the twelve major scales, on the key
profiles of Albrecht and Shanahan 2013), then the note among them that is home.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.facts import StatedKey
from basslint.hear.roots import Roots
from basslint.hear.tonic import MODES, STEP, Stretch, home_odds
from basslint.song import Notes, Song
from basslint.timing import BarGrid

Floats = NDArray[np.float64]

# Albrecht & Shanahan 2013, "The use of large corpora to train a new type of key-finding
# algorithm", table of probabilities (from memory): share of each degree, from the tonic up.
PROFILE_MAJOR = np.array(
    [0.238, 0.006, 0.111, 0.006, 0.137, 0.094, 0.016, 0.214, 0.009, 0.080, 0.008, 0.081]
)
PROFILE_MINOR = np.array(
    [0.220, 0.006, 0.104, 0.123, 0.019, 0.103, 0.012, 0.214, 0.062, 0.022, 0.061, 0.052]
)
# A scale is heard alike whichever of its relative keys is home.
_SCALE = 0.5 * PROFILE_MAJOR + 0.5 * np.roll(PROFILE_MINOR, 9)
_CHANGE = 4.0  # log-odds against a change of scale at a bar line: about two bars of clear notes
_RAISED = (
    0.01  # share of the time from which a raised seventh counts as used: more than an accident
)

_SCALES = {  # semitones above the tonic; handbook of harmony
    "major": (0, 2, 4, 5, 7, 9, 11),
    "minor": (0, 2, 3, 5, 7, 8, 10),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "locrian": (0, 1, 3, 5, 6, 8, 10),
}


@dataclass(frozen=True, slots=True, eq=False)
class Keys:
    """Stretches of one key, in order, without gaps; columns [n].

    ``start``, ``end`` int64 ticks; ``tonic`` int8 pitch class; ``mode`` one name per row; ``scale``
    bool [n, 12]: the mode's notes, in minor the raised seventh too where it is used; ``certainty``
    float64 0..1; ``stated``: the user named the key.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    tonic: NDArray[np.int8]
    mode: tuple[str, ...]
    scale: NDArray[np.bool_]
    certainty: Floats
    stated: bool = False

    def __len__(self) -> int:
        return len(self.start)


def hear_keys(song: Song, pitched: Sequence[int], roots: Roots) -> Keys:
    """Hear the keys of some parts (indexes into ``song.parts``), with the chord ``roots`` at hand.

    The keys cover the whole song; empty where the parts have no notes. Linear in notes and bars.
    """
    notes = _notes_of(song, pitched)
    if not len(notes):
        return _keys([], [], [], np.zeros((0, 12), dtype=bool), np.zeros(0), stated=False)
    held = sounding_per_bar(notes, song.grid)
    scale, sure = _scales(held)
    begin = np.flatnonzero(np.append(True, np.diff(scale) != 0))
    end = np.append(begin[1:], len(scale))
    edge = song.grid.start
    tonic, mode, certainty, rows = [], [], [], []
    for first, last in zip(begin.tolist(), end.tolist(), strict=True):
        stretch = _stretch(held[first:last].sum(axis=0), roots, int(edge[first]), int(edge[last]))
        odds = home_odds(stretch, int(scale[first]))
        share = np.exp(odds - odds.max())
        best = int(odds.argmax())
        tonic.append(int(scale[first] + STEP[best]) % 12)
        mode.append(MODES[best])
        certainty.append(float(sure[first:last].mean() * share[best] / share.sum()))
        rows.append(_scale_row(tonic[-1], MODES[best], stretch.sounding))
    bounds = np.append(edge[begin], edge[-1])
    bounds[-1] = max(int(bounds[-1]), song.end_tick)
    return _keys(bounds, tonic, mode, np.array(rows), np.array(certainty), stated=False)


def stated_key(song: Song, pitched: Sequence[int], key: StatedKey) -> Keys:
    """The key that the user stated, for the whole song; the notes tell only the raised seventh."""
    notes = _notes_of(song, pitched)
    total = np.bincount(notes.pitch % 12, (notes.end - notes.start), minlength=12)
    row = _scale_row(key.tonic, key.mode, total / max(float(total.sum()), 1.0))
    bounds = np.array([0, max(int(song.grid.start[-1]), song.end_tick)])
    return _keys(bounds, [key.tonic], [key.mode], row[None], np.ones(1), stated=True)


def sounding_per_bar(notes: Notes, grid: BarGrid) -> Floats:
    """How long each pitch class sounds in each bar, in bars, [bars, 12].

    The sounding time up to a moment is piecewise linear, so each note needs only its two ends.
    """
    edge, size = grid.start, (grid.bars + 1) * 12
    total = np.zeros(size)
    pitch_class = notes.pitch.astype(np.int64) % 12
    for tick, sign in ((notes.start, 1.0), (notes.end, -1.0)):
        at = np.clip(tick, edge[0], edge[-1])
        bar = grid.bar_of(at)
        gone = (at - edge[bar]) / np.maximum(edge[bar + 1] - edge[bar], 1)
        total += sign * np.bincount(bar * 12 + pitch_class, 1.0 - gone, minlength=size)
        total += sign * np.bincount((bar + 1) * 12 + pitch_class, gone, minlength=size)
    return np.maximum(np.cumsum(total.reshape(-1, 12), axis=0)[:-1], 0.0)


def _scales(held: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Tonic of the major scale in use in each bar, and its posterior probability."""
    table = np.log(np.stack([np.roll(_SCALE, k) for k in range(12)]))
    # a full bar has one say; a bar that hardly sounds has less
    share = held / np.maximum(held.sum(axis=1, keepdims=True), 1.0)
    score = share @ table.T
    n = len(score)
    best = score[0].copy()
    back = np.zeros((n, 12), dtype=np.intp)
    same = np.arange(12)
    for bar in range(1, n):
        top = int(best.argmax())
        moved = best[top] - _CHANGE
        stays = best >= moved
        back[bar] = np.where(stays, same, top)
        best = np.where(stays, best, moved) + score[bar]
    path = np.zeros(n, dtype=np.intp)
    path[-1] = int(best.argmax())
    for bar in range(n - 1, 0, -1):
        path[bar - 1] = back[bar, path[bar]]
    return path, _posterior(score)[np.arange(n), path]


def _posterior(score: Floats) -> Floats:
    """Forward-backward over the scales with the same change penalty, [bars, 12]."""
    n = len(score)
    change = 1.0 / (1.0 + np.exp(_CHANGE))
    likely = np.exp(score - score.max(axis=1, keepdims=True))
    both = np.stack((likely, likely[::-1]))
    ahead = np.full((n, 2, 12), 1.0 / 12)
    for step in range(1, n):
        now = ahead[step - 1] * both[:, step - 1]
        now /= now.sum(axis=1, keepdims=True)
        ahead[step] = (1.0 - change) * now + change / 12
    joint = ahead[:, 0] * likely * ahead[::-1, 1]
    return np.asarray(joint / joint.sum(axis=1, keepdims=True))


def _stretch(held: Floats, roots: Roots, start: int, end: int) -> Stretch:
    """Gather what `home_odds` asks about the time from ``start`` to ``end``."""
    length = np.minimum(roots.end, end) - np.maximum(roots.start, start)
    rows = np.flatnonzero((length > 0) & (roots.root >= 0))
    root = roots.root[rows].astype(np.int64)
    span = length[rows].astype(np.float64)
    major = np.isin(roots.quality[rows], (0, 2))  # major, dominant-7
    total = max(float(span.sum()), 1.0)
    return Stretch(
        held / max(float(held.sum()), 1e-9),
        np.bincount(root, span, minlength=12) / total,
        np.bincount(root[major], span[major], minlength=12) / total,
        int(root[0]) if len(root) else -1,
        int(root[-1]) if len(root) else -1,
    )


def _scale_row(tonic: int, mode: str, sounding: Floats) -> NDArray[np.bool_]:
    """The notes of a key, bool [12]."""
    row = np.zeros(12, dtype=bool)
    row[(tonic + np.array(_SCALES[mode])) % 12] = True
    raised = (tonic + 11) % 12
    if mode == "minor" and sounding[raised] >= _RAISED:
        row[raised] = True
    return row


def _notes_of(song: Song, parts: Sequence[int]) -> Notes:
    return song.notes_of(*parts) if parts else song.notes.take(np.zeros(0, dtype=np.intp))


def _keys(
    bounds: NDArray[np.int64] | list[int],
    tonic: list[int],
    mode: list[str],
    scale: NDArray[np.bool_],
    certainty: Floats,
    *,
    stated: bool,
) -> Keys:
    edge = np.array(bounds, dtype=np.int64)
    return Keys(
        edge[:-1], edge[1:], np.array(tonic, dtype=np.int8), tuple(mode), scale, certainty, stated
    )
