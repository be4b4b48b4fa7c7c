"""Where do roots come from, and which source wins where two speak?

Harmony has sources: the MIDI parts, chords that the user states, loops of audio. Each gives
`Roots`, stretches of one chord with a certainty; they are laid over each other here. What is stated
wins, what is heard fills the rest, and every stretch says where it comes from.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from basslint.theory.chords import QUALITIES
from basslint.util.columns import ends_of, rows_where
from basslint.util.records import names_of, record, replace

Source = Literal["midi", "stated", "loop"]
SOURCES: tuple[Source, ...] = ("midi", "stated", "loop")
MIDI, STATED, LOOP = range(3)  # rows of `SOURCES`
NOT_NAMED = -1  # as a quality: the chord is none of `QUALITIES`, or only its root is known


@record(eq=False, kw_only=True)
class Roots:
    """Stretches of one chord root, in order, without overlap; columns [n].

    ``start``, ``end`` int64 ticks; ``root`` int8 pitch class 0–11, −1 where none can be told (or
    where the user states that no chord sounds); ``quality`` int8 index into `QUALITIES`, 0 where no
    root, `NOT_NAMED` where a root alone or another kind of chord is stated; ``tones`` bool [n, 12]:
    which semitones above the root the chord holds, the bass of a stated slash chord among them, the
    root alone where no more is known; ``bass`` int8: pitch class of a stated slash bass, −1 where
    none is. ``certainty`` float64 0..1: of the time told with certainty c, a share c is right.
    ``fit`` float64 [n, 12] 0..1: how well each pitch class fits as a bass, all chords that the
    harmony may mean taken together: the chance that it is the root, a tenth of that for another
    tone; 1 where nothing can be told. Under keys that may be Am7 or C, neither root is sure, yet
    that F♯ is none of theirs is. ``since`` int64 ticks: where a chord that is struck off the beat
    has changed, as one feels it: the beat before its first stroke, or the bar line a beat before,
    if the harmony is silent from there on; else ``start``. ``source`` int8 index into `SOURCES`.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    root: NDArray[np.int8]
    quality: NDArray[np.int8]
    tones: NDArray[np.bool_]
    bass: NDArray[np.int8]
    certainty: NDArray[np.float64]
    fit: NDArray[np.float64]
    since: NDArray[np.int64]
    source: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.start)

    def quality_name(self, row: int) -> str:
        """The name of a stretch's quality, empty where it has none."""
        quality = int(self.quality[row])
        return QUALITIES[quality] if self.root[row] >= 0 and quality != NOT_NAMED else ""

    def source_name(self, row: int) -> Source:
        """Where a stretch comes from."""
        return SOURCES[int(self.source[row])]

    @property
    def bare(self) -> NDArray[np.bool_]:
        """Whether the root is known and its third is not, [n]: a root alone, or with its fifth."""
        return np.asarray((self.root >= 0) & (self.tones.sum(axis=1) <= _BARE))

    @property
    def began(self) -> NDArray[np.intp]:
        """Row at which the root of each stretch began, [n]: its own, unless the chord before it
        has the same root, and the same bass under a slash, and goes on into it, as Am into Am7."""
        new = np.ones(len(self), dtype=bool)
        new[1:] = (self.root[1:] != self.root[:-1]) | (self.bass[1:] != self.bass[:-1])
        new[1:] |= self.start[1:] != self.end[:-1]
        return np.maximum.accumulate(np.where(new, np.arange(len(self)), 0))

    def take(self, rows: NDArray[np.intp]) -> Roots:
        """The stretches of some rows, in that order."""
        return Roots(**{name: getattr(self, name)[rows] for name in names_of(self)})


_BARE = 2  # tones: a root, or a fifth


def no_roots() -> Roots:
    """No stretch at all: no harmony is known."""
    ticks, small = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int8)
    return Roots(
        start=ticks,
        end=ticks,
        root=small,
        quality=small,
        tones=np.zeros((0, 12), dtype=bool),
        bass=small,
        certainty=np.zeros(0),
        fit=np.zeros((0, 12)),
        since=ticks,
        source=small,
    )


def laid_over(upper: Roots, lower: Roots) -> Roots:
    """``upper`` where it has stretches, ``lower`` in the gaps between them."""
    if not len(upper) or not len(lower):
        return upper if len(upper) else lower
    # the gaps of the upper layer, before, between and after its stretches
    last = np.iinfo(np.int64).max
    begin = np.concatenate(([np.iinfo(np.int64).min], upper.end))
    until = np.concatenate((upper.start, [last]))
    gap = rows_where(begin < until)
    first = lower.end.searchsorted(begin[gap], side="right")
    count = np.maximum(lower.start.searchsorted(until[gap], side="left") - first, 0)
    row = np.arange(count.sum()) - np.repeat(count.cumsum() - count, count)
    row += first.repeat(count)
    shown = lower.take(row)
    begin, until = begin[gap].repeat(count), until[gap].repeat(count)
    shown = replace(
        shown,
        start=np.maximum(shown.start, begin),
        end=np.minimum(shown.end, until),
        since=np.maximum(shown.since, begin),
    )
    return _in_order([upper, shown])


def joined(roots: Roots, only: NDArray[np.bool_] | None = None) -> Roots:
    """Neighbouring stretches of one chord from one source as one, as where a loop starts again.

    ``only``: which stretches may be joined to the next, [n − 1]; all unless said.
    """
    same = (
        (roots.root[1:] == roots.root[:-1])
        & (roots.quality[1:] == roots.quality[:-1])
        & (roots.source[1:] == roots.source[:-1])
        & (roots.start[1:] == roots.end[:-1])
    )
    if only is not None:
        same &= only
    begin = rows_where(np.concatenate(([True], ~same))) if len(roots) else np.zeros(0, np.intp)
    if len(begin) == len(roots):
        return roots
    long = (roots.end - roots.start).astype(np.float64)
    whole = np.add.reduceat(long, begin)
    first = roots.take(begin)
    return replace(
        first,
        end=roots.end[ends_of(begin, len(roots)) - 1],
        certainty=np.add.reduceat(roots.certainty * long, begin) / whole,
        fit=np.add.reduceat(roots.fit * long[:, None], begin, axis=0) / whole[:, None],
    )


def _in_order(layers: Sequence[Roots]) -> Roots:
    """Stretches that do not overlap, in order of time."""
    columns = {
        name: np.concatenate([getattr(layer, name) for layer in layers]) for name in names_of(Roots)
    }
    return Roots(**columns).take(columns["start"].argsort(kind="stable"))
