"""Roots that one or two pitch classes stand for.

A fifth, a third and a tone belong to more than one triad: Open Music Theory; how often such a
root is right is measured (hear/harmony/few_tones.py).
"""

from __future__ import annotations

import pytest
from beats import heard

from basslint.hear.harmony.roots import CERTAIN


def certainties(bars: str) -> list[float]:
    """Certainty of the roots heard in eight bars of keys over a bass."""
    return heard(f"tempo 120\nkeys | {bars}\nsub | C1:4 |*8").roots.certainty.tolist()


@pytest.mark.parametrize(
    ("bars", "most"),
    [
        ("C3+G3:4 |*8", 0.75),  # C5: two tones, however long they last
        ("D3:2 G3:2 |*8", 0.75),  # D and G, a bar's worth of G minor, G major or Gsus4
        ("C4+E4:4 |*8", 0.45),  # C major or A minor
        ("C3+C4:4 |*8", 0.35),
    ],
)
def test_fewer_than_three_pitch_classes_make_no_sure_root(bars: str, most: float) -> None:
    assert max(certainties(bars)) <= most


def test_a_third_tone_anywhere_in_the_loop_makes_it_a_chord_again() -> None:
    assert min(certainties("C3+E3+G3:4 |*8")) >= CERTAIN
    # every other bar leaves the third out
    loop = "C3+E3+G3:4 | F3+A3+C4:4 | C3+G3:4 | F3+A3+C4:4 |*2"
    assert min(certainties(loop)) >= CERTAIN
