"""Which roots and keys does a heard loop stand on, as stretches in the ticks of its own grid?

Where a chord glides into the next no root is claimed, nor where no harmony is heard.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.audio.loop import HARMONY_HEARD, TICKS, HeardLoop
from basslint.hear.harmony.sources import LOOP, Roots
from basslint.hear.harmony.stretches import stretches
from basslint.hear.key.keys import Keys, keys_of
from basslint.util.records import replace

_TOLD = 0.5  # chance of a root at the end of a glide from which it is named


def loop_roots(heard: HeardLoop) -> Roots:
    """The chord roots of a loop; −1 where it glides, or where no harmony is to be heard."""
    everywhere = np.zeros(len(heard.segments), dtype=bool)
    roots = stretches(heard.segments, everywhere, heard.by_root, heard.of_best)
    unknown = heard.tonality.weight < HARMONY_HEARD
    for begin, end in zip(heard.glides.start.tolist(), heard.glides.end.tolist(), strict=True):
        unknown[begin:end] = True
    if not heard.fits:
        unknown[:] = True
    edges = heard.segments.edges
    row = np.searchsorted(roots.start, edges[:-1], side="right") - 1
    row = np.where(unknown, -1, row)
    begin = np.flatnonzero(np.append(True, np.diff(row) != 0))
    end = np.append(begin[1:], len(row))
    return _blank(roots.take(np.maximum(row[begin], 0)), row[begin] < 0, edges[begin], edges[end])


def loop_keys(heard: HeardLoop, roots: Roots) -> Keys:
    """The keys of a loop, with its ``roots`` at hand; none where no harmony is heard."""
    eighths = len(heard.segments) // heard.grid.bars
    held = (heard.segments.sounding * heard.tonality.weight[:, None]).reshape(-1, eighths, 12)
    end = int(heard.grid.start[-1])
    return keys_of(held.mean(axis=1), roots, heard.grid.start, TICKS, end)


def glide_roots(heard: HeardLoop) -> list[tuple[int, int]]:
    """Root before and after each glide: of all pairs of two different ones the likeliest; −1 where
    one of them is less likely than not.
    """
    chance, n = heard.by_root, len(heard.by_root)
    pairs = []
    for begin, end in zip(heard.glides.start.tolist(), heard.glides.end.tolist(), strict=True):
        both = np.outer(chance[(begin - 1) % n], chance[end % n])
        np.fill_diagonal(both, 0.0)
        before, after = divmod(int(both.argmax()), len(both))
        told = chance[(begin - 1) % n, before] >= _TOLD, chance[end % n, after] >= _TOLD
        pairs.append((before if told[0] else -1, after if told[1] else -1))
    return pairs


def _blank(
    roots: Roots, unknown: NDArray[np.bool_], start: NDArray[np.int64], end: NDArray[np.int64]
) -> Roots:
    """The stretches between ``start`` and ``end``, without a root in rows that are ``unknown``."""
    return replace(
        roots,
        start=start,
        end=end,
        root=np.where(unknown, -1, roots.root).astype(np.int8),
        quality=np.where(unknown, 0, roots.quality).astype(np.int8),
        certainty=np.where(unknown, 0.0, roots.certainty),
        fit=np.where(unknown[:, None], 1.0, roots.fit),
        tones=roots.tones & ~unknown[:, None],
        since=np.maximum(roots.since, start),
        source=np.full(len(start), LOOP, dtype=np.int8),
    )
