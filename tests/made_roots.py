"""Stretches of roots as a test states them, heard from MIDI."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.sources import MIDI, Roots
from basslint.theory.chords import IS_TONE, QUALITIES


def made_roots(
    start: Sequence[int] | NDArray[np.int64],
    end: Sequence[int] | NDArray[np.int64],
    root: Sequence[int],
    quality: Sequence[str] | None = None,
    certainty: float = 0.95,
    fit: float = 0.0,
    since: Sequence[int] | None = None,
    source: int = MIDI,
) -> Roots:
    """Roots of one certainty; major where no quality is given."""
    n = len(root)
    rows = np.array([QUALITIES.index(q) for q in quality or ["major"] * n], dtype=int)
    begin = np.array(start, dtype=np.int64)
    return Roots(
        start=begin,
        end=np.array(end, dtype=np.int64),
        root=np.array(root, dtype=np.int8),
        quality=rows.astype(np.int8),
        tones=IS_TONE[rows],
        bass=np.full(n, -1, dtype=np.int8),
        certainty=np.full(n, certainty),
        fit=np.full((n, 12), fit),
        since=begin if since is None else np.array(since, dtype=np.int64),
        source=np.full(n, source, dtype=np.int8),
    )
