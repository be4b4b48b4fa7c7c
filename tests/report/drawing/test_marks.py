"""Where a place lies, in a musician's words."""

from __future__ import annotations

import pytest

from basslint.report.drawing.marks import spot


@pytest.mark.parametrize(
    ("bar", "beat", "beats", "words"),
    [
        (5, 1.0, 4, "bar 5, beat 1"),
        (5, 2.5, 4, "bar 5, beat 2.5"),
        (5, 4.99, 4, "just before bar 6"),
        (5, 2.97, 4, "bar 5, just before beat 3"),
        (5, 3.99, 3, "just before bar 6"),
        (5, 4.9, 4, "bar 5, beat 4.9"),
        (5, 4.99, 0, "bar 5, beat 4.99"),
    ],
)
def test_what_comes_a_hair_before_a_beat_is_told_by_that_beat(
    bar: int, beat: float, beats: int, words: str
) -> None:
    assert spot(bar, beat, beats) == words
