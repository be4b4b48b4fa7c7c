"""Do strokes keep a grid: straight, swung, swung with few quarters, and laid wrong?

That a beat which swings strikes the last note of a triplet is common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio.fit import grid_error
from basslint.audio.strokes import STROKE_S

QUARTER_S, QUARTERS = 0.6, 32  # 100 bpm, eight bars


def strokes(places: dict[float, float]) -> np.ndarray:
    """How much is struck at each frame, with strokes at places of each quarter."""
    strength = np.zeros(round(QUARTERS * QUARTER_S / STROKE_S) + 1, dtype=np.float32)
    for place, weight in places.items():
        for quarter in range(QUARTERS):
            strength[round((quarter + place) * QUARTER_S / STROKE_S)] += weight
    return strength


@pytest.mark.parametrize(
    ("places", "fits"),
    [
        ({0: 1.0, 0.5: 1.0}, True),
        ({0: 0.3, 2 / 3: 0.7}, True),  # swung
        ({0: 0.16, 2 / 3: 0.84}, True),  # with most quarters left out
        ({0: 0.05, 2 / 3: 0.95}, False),  # hardly a quarter: laid wrong
        ({0: 0.16, 0.2: 0.42, 0.7: 0.42}, False),  # on no place of a triplet
        ({0.2: 1.0, 0.7: 1.0}, False),
    ],
)
def test_strokes_keep_a_grid_or_miss_it(places: dict[float, float], fits: bool) -> None:
    edges_s = np.arange(2 * QUARTERS + 1) * (QUARTER_S / 2)
    assert (grid_error(strokes(places), edges_s) is None) is fits


@pytest.mark.parametrize(
    ("places", "off"),
    [
        ({0.2: 1.0, 0.7: 1.0}, 0.12),  # .2 of a quarter of .6 s late
        ({0.3: 1.0, 0.8: 1.0}, -0.12),  # early: .3 is nearer the next eighth
        ({0.105: 1.0, 0.605: 1.0}, None),  # 63 ms: as strings are struck
        ({0.13: 1.0, 0.63: 1.0}, 0.078),
        ({0.1: 1.0, 0.35: 1.0, 0.6: 1.0, 0.85: 1.0}, None),  # they agree on no place
        ({}, None),
    ],
)
def test_by_how_much_a_grid_is_missed(places: dict[float, float], off: float | None) -> None:
    edges_s = np.arange(2 * QUARTERS + 1) * (QUARTER_S / 2)
    found = grid_error(strokes(places), edges_s)
    assert found == (off and pytest.approx(off, abs=0.012))  # a frame


def test_what_is_struck_before_and_after_the_grid_says_nothing_of_it() -> None:
    strength = strokes({0: 1.0})
    late = strokes({0.2: 40.0, 0.7: 40.0})
    frames = round(4 * QUARTER_S / STROKE_S) - 20
    strength[:frames], strength[-frames:] = late[:frames], late[-frames:]
    edges_s = np.arange(8, 2 * QUARTERS - 7) * (QUARTER_S / 2)
    assert grid_error(strength, edges_s) is None
