"""What comes again of each phrase, against the definition: every other place is looked at."""

from __future__ import annotations

import numpy as np
import pytest

from basslint.hear.form import cues

EDGE = 0.3  # how alike a bar and the song's edge are, as two bars at random


def by_definition(alike: np.ndarray, at: int, length: int) -> tuple[float, float]:
    """How alike the bars are to the likest elsewhere, summed, and less the bars around."""
    size = len(alike)

    def pair(a: int, b: int) -> float:
        return float(alike[a, b]) if min(a, b) >= 0 and max(a, b) < size else EDGE

    again = alone = 0.0
    for other in range(size - length + 1):
        if abs(other - at) >= length:
            whole = sum(pair(at + k, other + k) for k in range(length))
            around = pair(at - 1, other - 1) + pair(at + length, other + length)
            again, alone = max(again, whole), max(alone, whole - around * length / 2)
    return again, alone


@pytest.mark.parametrize("cells", [1, 700, 1 << 20], ids=["one length", "some", "all at once"])
@pytest.mark.parametrize("size", [1, 2, 5, 13, 22])
def test_what_comes_again(monkeypatch: pytest.MonkeyPatch, size: int, cells: int) -> None:
    monkeypatch.setattr(cues, "_CELLS", cells)
    bars = np.random.default_rng(size).random((size, 3), dtype=np.float32)
    again, alone = cues._again(bars @ bars.T / 3)
    for at in range(size):
        for length in range(1, min(cues.LONGEST, size - at) + 1):
            expected = by_definition(bars @ bars.T / 3, at, length)
            found = again[at, length - 1], alone[at, length - 1]
            assert found == pytest.approx(expected, abs=1e-5)
