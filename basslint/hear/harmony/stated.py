"""Which roots does the harmony stand on, as the user states them?

The sources of a beat may be audio that its file does not hold; then its chords are written down:
``Dm Bb F C``, one a bar, over and over. Such roots are certain. Where no chord of a statement names
more than its root, chord tones are not assumed: whether a third is major or minor was not said.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate, pairwise

import numpy as np
from numpy.typing import NDArray

from basslint.hear.facts import StatedChords
from basslint.hear.harmony.sources import NOT_NAMED, STATED, Roots, no_roots
from basslint.hear.harmony.stretches import TONE_FIT, USUAL_TONES
from basslint.song.timing import BarGrid
from basslint.theory.chord_symbols import ChordSymbol
from basslint.theory.chords import IS_TONE
from basslint.util.columns import ends_of, rows_where
from basslint.util.records import replace

Floats = NDArray[np.float64]


def stated_roots(grid: BarGrid, stated: Sequence[StatedChords]) -> Roots:
    """The stretches of the chords that are stated, each repeated to the next one or to the end.

    Chords that go on unchanged over a bar line are one stretch. Where no chord is said to sound
    (``N.C.``), the stretch has no root. Linear in bars and chords.
    """
    if not stated:
        return no_roots()
    ordered = sorted(stated, key=lambda s: s.from_bar)
    alone = all(span.chord.plain or span.chord.root < 0 for s in stated for span in s.chords)
    starts: list[NDArray[np.int64]] = []
    chords: list[ChordSymbol] = []
    bounds = [min(s.from_bar - 1, grid.bars) for s in ordered] + [grid.bars]
    for line, (first, last) in zip(ordered, pairwise(bounds), strict=True):
        tick, index = _changes(grid, line, first, last)
        starts.append(tick)
        chords += [line.chords[i].chord for i in index.tolist()]
    start = np.concatenate(starts)
    if not len(start):
        return no_roots()
    end = ends_of(start, grid.start[-1])
    lasts = rows_where(end > start)  # a meter too short for a length leaves nothing of it
    return _without_repeats(_columns(start, end, chords, alone).take(lasts))


def _changes(
    grid: BarGrid, line: StatedChords, first: int, last: int
) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """Where each chord of a line begins between two bars (from 0), and which one it is."""
    *before, whole = accumulate((span.bars for span in line.chords), initial=Fraction(0))
    times = int(-(-(last - first) // whole))
    bar = first + (np.arange(times)[:, None] * float(whole) + np.array(before, float)).ravel()
    index = np.tile(np.arange(len(before)), times)
    inside = bar < last
    tick = np.interp(bar[inside], np.arange(grid.bars + 1), grid.start)
    return np.rint(tick).astype(np.int64), index[inside]


def _columns(
    start: NDArray[np.int64], end: NDArray[np.int64], chords: Sequence[ChordSymbol], alone: bool
) -> Roots:
    kinds = list(dict.fromkeys(chords))
    place = {chord: i for i, chord in enumerate(kinds)}
    row = np.array([place[chord] for chord in chords])
    root = np.array([c.root for c in kinds])
    tones = np.zeros((len(kinds), 12), dtype=bool)
    for i, chord in enumerate(kinds):
        if chord.root >= 0:
            above = [0] if alone else [(tone - chord.root) % 12 for tone in chord.tones]
            tones[i, above] = True
    quality = np.array([_quality(t) if r >= 0 else 0 for t, r in zip(tones, root, strict=True)])
    bass = np.array([c.bass for c in kinds])
    fit = np.stack([_fit(c, t, alone) for c, t in zip(kinds, tones, strict=True)])
    return Roots(
        start=start,
        end=end,
        root=root.astype(np.int8)[row],
        quality=quality.astype(np.int8)[row],
        tones=tones[row],
        bass=bass.astype(np.int8)[row],
        certainty=np.where(root >= 0, 1.0, 0.0)[row],
        fit=fit[row],
        since=start,
        source=np.full(len(start), STATED, dtype=np.int8),
    )


def _quality(tones: NDArray[np.bool_]) -> int:
    """The fullest of the qualities that hearing knows among some tones, −1 where none is."""
    within = ~(IS_TONE & ~tones).any(axis=1)
    size = np.where(within, IS_TONE.sum(axis=1), 0)
    return int(size.argmax()) if np.count_nonzero(within) else NOT_NAMED


def _fit(chord: ChordSymbol, tones: NDArray[np.bool_], alone: bool) -> Floats:
    """How well each pitch class fits as a bass, see `Roots.fit`, [12]."""
    if chord.root < 0:
        return np.ones(12)
    above = np.where(tones, TONE_FIT, 0.0)
    if alone:
        above = np.maximum(above, TONE_FIT * USUAL_TONES)  # of chords as they usually are
    above[0] = 1.0
    if chord.bass >= 0:
        above[(chord.bass - chord.root) % 12] = 1.0
    return np.roll(above, chord.root)


def _without_repeats(roots: Roots) -> Roots:
    """A chord that goes on is one stretch, however often it was written."""
    same = (roots.root[1:] == roots.root[:-1]) & (roots.bass[1:] == roots.bass[:-1])
    same &= (roots.tones[1:] == roots.tones[:-1]).all(axis=1)
    same &= roots.end[:-1] == roots.start[1:]
    first = rows_where(np.concatenate(([True], ~same)))
    last = ends_of(first, len(roots)) - 1
    return replace(roots.take(first), end=roots.end[last])
