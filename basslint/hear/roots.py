"""Which root does the harmony stand on, when, and how sure is that?

The bass under test has no say: the caller names the harmony parts, nothing else is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chords import QUALITIES, evidence, quality_share
from basslint.hear.decode import posterior
from basslint.hear.segments import Segments, cut
from basslint.song import Song

__all__ = ["QUALITIES", "Roots", "hear_roots"]

Floats = NDArray[np.float64]

# Log-odds that the chord changes on a bar line, half bar, beat, eighth between beats, where nothing
# is struck there; and what speaks for a change: the lowest note struck, many notes struck (0..1),
# other pitch classes than before (0..1).
_CHANGE = np.array([-0.5, -0.7, -1.95, -4.6])
_CHANGE_ATTACK, _CHANGE_ONSETS, _CHANGE_TURN = 0.5, 2.35, 0.4
_SAME_ROOT = 0.1  # share of chord changes that only change the quality


@dataclass(frozen=True, slots=True, eq=False)
class Roots:
    """Stretches of one chord root, in order, without overlap; columns [n].

    ``start``, ``end`` int64 ticks; ``root`` int8 pitch class 0–11, −1 where none can be told;
    ``quality`` int8 index into `QUALITIES` (0 where no root); ``certainty`` float64 0..1: of the
    time told with certainty c, a share c is right.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    root: NDArray[np.int8]
    quality: NDArray[np.int8]
    certainty: Floats

    def __len__(self) -> int:
        return len(self.start)


def hear_roots(song: Song, harmony: Sequence[int]) -> Roots:
    """Hear the roots of some parts (indexes into ``song.parts``).

    The stretches run from the first to the last sounding note of these parts; empty where they
    have none. Time is linear in notes and bars.
    """
    notes = song.notes_of(*harmony) if harmony else song.notes.take(np.zeros(0, dtype=np.intp))
    if not len(notes):
        none = np.zeros(0, dtype=np.int64)
        return Roots(none, none, none.astype(np.int8), none.astype(np.int8), np.zeros(0))
    segments = cut(notes, song.grid)
    chance = posterior(evidence(segments), change_chance(segments), quality_share(), _SAME_ROOT)
    return _stretches(segments, chance)


def change_chance(segments: Segments) -> Floats:
    """Probability that the chord changes where each segment begins, by place and attack alone."""
    odds = (
        _CHANGE[segments.level]
        + _CHANGE_ATTACK * segments.attack
        + _CHANGE_ONSETS * segments.onsets
        + _CHANGE_TURN * segments.turn
    )
    return np.asarray(1.0 / (1.0 + np.exp(-odds)))


def _stretches(segments: Segments, chance: Floats) -> Roots:
    """Merge segments of one root; the certainty of a stretch is its mean over time."""
    by_root = chance.sum(axis=2)
    root = by_root.argmax(axis=1)
    sure = by_root.max(axis=1)
    silent = np.asarray(~segments.sounding.any(axis=1))
    root = np.where(_long_runs(silent, segments), -1, root)
    sounding = np.flatnonzero(~silent)
    first, last = int(sounding[0]), int(sounding[-1]) + 1
    begin = first + np.flatnonzero(np.append(True, np.diff(root[first:last]) != 0))
    end = np.append(begin[1:], last)
    length = np.diff(segments.edges).astype(np.float64)
    span = np.add.reduceat(length[:last], begin)
    certainty = np.add.reduceat((sure * length)[:last], begin) / span
    told = root[begin]
    kinds = np.add.reduceat((chance * length[:, None, None])[:last], begin, axis=0)
    quality = kinds[np.arange(len(begin)), np.maximum(told, 0)].argmax(axis=1)
    return Roots(
        segments.edges[begin],
        segments.edges[end],
        told.astype(np.int8),
        np.where(told >= 0, quality, 0).astype(np.int8),
        np.where(told >= 0, certainty, 0.0),
    )


def _long_runs(silent: NDArray[np.bool_], segments: Segments) -> NDArray[np.bool_]:
    """Silences of a bar and more; a shorter one is a breath inside the harmony."""
    edge = np.flatnonzero(np.diff(np.concatenate(([0], silent.astype(np.int8), [0]))))
    result = np.zeros(len(silent), dtype=bool)
    for first, last in edge.reshape(-1, 2).tolist():
        begin, end = segments.edges[first], segments.edges[last]
        bar = segments.bar[first]
        width = (
            segments.edges[np.searchsorted(segments.bar, bar + 1)]
            - segments.edges[np.searchsorted(segments.bar, bar)]
        )
        result[first:last] = end - begin >= width
    return result
