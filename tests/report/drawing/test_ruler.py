"""The rows over a strip: phrases and roots where they begin, a column a tick; counted by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from made_roots import made_roots

from basslint.report.drawing import ruler
from basslint.report.drawing.canvas import Cells
from basslint.report.drawing.velocities import velocity_rows

BARS = np.arange(0, 90, 10)  # eight bars of ten ticks
SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def window(start: int, end: int) -> Any:
    return SimpleNamespace(
        start=start, end=end, width=end - start, column=lambda tick: int(tick) - start
    )


def text(cells: Cells | None) -> str | None:
    return None if cells is None else "".join(s.text for s in cells.segments())


PHRASES = SimpleNamespace(
    start_bar=np.array([0, 4, 7]), end_bar=np.array([4, 7, 9]), label=("A", "B", "C")
)


@pytest.mark.parametrize(
    ("start", "end", "drawn"),
    [
        (10, 50, "━━ A " + "━" * 25 + "┣━ B ━━━━━"),  # A has begun before
        (30, 80, "━━ A ━━━━━┣━ B " + "━" * 25 + "┣━ C ━━━━━"),  # to the end of the song
        (40, 71, "┣━ B " + "━" * 25 + "┣"),
        (0, 39, None),  # none begins inside
        (40, 70, None),  # nor where the window begins
        (10, 40, None),  # nor where it ends
        (10, 41, "━━ A " + "━" * 25 + "┣"),
    ],
)
def test_phrases_where_they_begin(start: int, end: int, drawn: str | None) -> None:
    chart: Any = SimpleNamespace(
        song=SimpleNamespace(grid=SimpleNamespace(start=BARS, bars=8)), phrases=PHRASES
    )
    assert text(ruler.phrases(chart, window(start, end), True)) == drawn


@pytest.mark.parametrize(
    ("start", "end", "drawn"),
    [
        (0, 50, "C         C         G    Am   Am"),  # once more at each bar line, none at its end
        (15, 50, "C    G    Am   Am"),
        (25, 28, "Am"),
        (0, 20, "C         C"),
        (0, 21, "C         C         G"),
    ],
)
def test_roots_where_they_begin_and_at_bar_lines(start: int, end: int, drawn: str) -> None:
    quality = ["major", "major", "minor", "minor"]
    chart: Any = SimpleNamespace(
        roots=made_roots([0, 20, 25, 30], [20, 25, 30, 40], [0, 7, 9, 9], quality),
        song=SimpleNamespace(grid=SimpleNamespace(start=BARS, bars=8)),
        spelling_at=lambda tick: SHARPS,
    )
    assert text(ruler.roots(chart, window(start, end), True)) == drawn


def test_velocities_in_eight_steps() -> None:
    hits = [(0, 0, 127), (1, 15, 112), (2, 16, 111), (3, 64, 64), (4, 127, 1)]
    written, mended = velocity_rows(hits, window(0, 8), True)
    steps = "▁▂▃▄▅▆▇█"
    assert text(written[1]) == "".join(steps[n] for n in (0, 0, 1, 4, 7))
    assert text(mended[1]) == "".join(steps[n] for n in (7, 7, 6, 4, 0))
    assert written[0] != mended[0]
