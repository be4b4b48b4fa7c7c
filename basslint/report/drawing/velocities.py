"""How loud are the hits, as written and as mended?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Cells
from basslint.report.drawing.window import Window

_A_STEP = 16  # velocities (0 to 127) in one of eight steps


def velocity_rows(
    hits: Sequence[tuple[int, int, int]], window: Window, unicode: bool
) -> Iterator[tuple[marks.Mark, Cells]]:
    """A row of steps for the velocities written, and one for those mended, each with its mark.

    ``hits``: (tick, velocity written, velocity mended).
    """
    steps = marks.STEPS[0 if unicode else 1]
    for which, mark in ((1, marks.AS_WRITTEN), (2, marks.AS_MENDED)):
        cells = Cells(window.width)
        for hit in hits:
            step = steps[min(int(hit[which]) // _A_STEP, len(steps) - 1)]
            cells.put(window.column(hit[0]), step, mark.style)
        yield mark, cells
