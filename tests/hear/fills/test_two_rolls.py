"""Two even rolls with a breath between them are no uneven one (common practice, no source).

Steps in quarter notes at 120 bpm, where a quarter lasts 500 ms: .12 is 60 ms, on no grid.
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.hear.fills.steps import explain

QUARTER_MS = 500.0


def hits(*gaps: float) -> np.ndarray:
    return np.concatenate(([0.0], np.cumsum(gaps)))


@pytest.mark.parametrize(
    ("gaps", "kind"),
    [
        ([0.14] * 4 + [0.3] + [0.105] * 4, "mixed"),
        ([0.14] * 2 + [0.3] + [0.105] * 4, "mixed"),  # a pickup of three
        ([0.14] * 4 + [0.3, 0.105], "uneven"),  # two hits are no roll
        ([0.14] * 4 + [0.23] + [0.105] * 4, "uneven"),  # no breath
        ([0.14, 0.14, 0.08, 0.2, 0.3] + [0.105] * 4, "uneven"),  # the first stumbles
    ],
)
def test_each_of_two_rolls_is_even_by_itself(gaps: list[float], kind: str) -> None:
    onset = hits(*gaps)
    steps = explain(onset, QUARTER_MS)
    assert steps.kind == kind
    off = np.abs(onset - steps.ideal).max()
    assert bool(off < 1e-9) is (kind == "mixed")
