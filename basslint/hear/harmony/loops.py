"""What do loops of sound say of a song's harmony, laid into its bars?

They are heard elsewhere (`basslint.audio`); here is only the shape in which a chart holds them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.sources import Roots, no_roots


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Loops:
    """Loops in the bars in which they play.

    ``roots``: their chord roots, −1 where a chord moves into the next. ``start``, ``end`` int64
    ticks [k] of each loop's playing, ``cents`` float64 [k] how far it stands above A = 440 Hz as it
    is played, ``certainty`` float64 [k] of that, 0..1; ``name``: its file, [k]. ``remarks``:
    sentences on how each was taken.
    """

    roots: Roots
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    cents: NDArray[np.float64]
    certainty: NDArray[np.float64]
    name: tuple[str, ...]
    remarks: tuple[str, ...]


def no_loops() -> Loops:
    """No loop at all."""
    ticks, none = np.zeros(0, dtype=np.int64), np.zeros(0)
    return Loops(
        roots=no_roots(), start=ticks, end=ticks, cents=none, certainty=none, name=(), remarks=()
    )
