"""What do loops of sound say of a song's harmony, laid into its bars?

They are heard elsewhere (`basslint.audio`); here is only the shape in which a chart holds them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.sources import Roots
from basslint.util.records import record


@record(eq=False)
class Soft:
    """What one loop sounds: chance that each pitch class does, float64 [s, 12] 0..1, from ``start``
    to ``end``, int64 ticks [s], in order, without overlap.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    chance: NDArray[np.float64]

    def during(self, start: NDArray[np.int64], end: NDArray[np.int64]) -> NDArray[np.float64]:
        """Mean chance of each pitch class from ``start`` to ``end``, [m, 12]; 0 where it is silent.

        The chance gathered up to a moment is piecewise linear.
        """
        if not len(self.start):
            return np.zeros((len(start), 12))
        length = (self.end - self.start).astype(np.float64)[:, None]
        total = np.concatenate((np.zeros((1, 12)), np.cumsum(self.chance * length, axis=0)))

        def gathered(tick: NDArray[np.int64]) -> NDArray[np.float64]:
            row = (self.start.searchsorted(tick, side="right") - 1).clip(0, None)
            inside = (np.minimum(tick, self.end[row]) - self.start[row]).clip(0, None)
            return np.asarray(total[row] + self.chance[row] * inside[:, None])

        return np.asarray((gathered(end) - gathered(start)) / np.maximum(end - start, 1)[:, None])


@record(eq=False, kw_only=True)
class Turns:
    """How one loop is played: ``file``, whose first ``turned_s`` seconds are put after its end (the
    pickup of a file that is cut to bars sounds again before each repeat), second ``begins_s`` of
    its first bar line then, ``speed`` against the file's own; ``start``, ``end`` int64 ticks of
    each turn, [t].
    """

    file: str
    turned_s: float
    begins_s: float
    speed: float
    start: NDArray[np.int64]
    end: NDArray[np.int64]


@record(eq=False, kw_only=True)
class Loops:
    """Loops in the bars in which they play.

    ``roots``: their chord roots, −1 where a chord moves into the next. ``sounds``: what each
    sounds, softly. ``turns``: how each is played. ``start``, ``end`` int64
    ticks [k] of each loop's playing, ``cents`` float64 [k] how far it stands above A = 440 Hz as it
    is played, ``certainty`` float64 [k] of that, 0..1; ``name``: its file, [k]. ``remarks``:
    sentences on how each was taken.
    """

    roots: Roots
    sounds: tuple[Soft, ...]
    turns: tuple[Turns, ...]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    cents: NDArray[np.float64]
    certainty: NDArray[np.float64]
    name: tuple[str, ...]
    remarks: tuple[str, ...]

    def during(self, start: NDArray[np.int64], end: NDArray[np.int64]) -> NDArray[np.float64]:
        """Mean chance from ``start`` to ``end`` that each pitch class sounds in one of the loops,
        that of the loop that sounds it most, [m, 12].
        """
        chance = np.zeros((len(start), 12))
        for soft in self.sounds:
            np.maximum(chance, soft.during(start, end), out=chance)
        return chance
