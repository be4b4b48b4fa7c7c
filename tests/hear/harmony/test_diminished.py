"""Diminished chords and what may stand under them. Open Music Theory: B-D-F-Ab is a diminished
seventh, B-D-F-A a half-diminished one, and B-D-F are the upper tones of G7.
"""

from __future__ import annotations

import pytest
from beats import heard

from basslint.hear.bassline.functions import FUNCTIONS
from basslint.theory.chords import QUALITIES

FUNCTIONS_UNDER = "C2:4 | {note}:4 | C2:4 | {note}:4 |*2"


@pytest.mark.parametrize(
    ("chord", "quality"),
    [
        ("B3+D4+F4+G#4", "diminished-7"),
        ("B3+D4+F4", "diminished"),
        ("B3+D4+F4+A4", "half-diminished"),
    ],
)
def test_a_diminished_chord_has_the_seventh_that_sounds(chord: str, quality: str) -> None:
    chart = heard(f"tempo 120\nkeys | {chord}:4 | C4+E4+G4:4 |*4\nsub | C1:4 |*8")
    roots = chart.roots
    named = {QUALITIES[q] for r, q in zip(roots.root, roots.quality, strict=True) if r == 11}
    assert named <= {quality}
    assert named or quality == "diminished-7"  # which of its four tones is the root is open


@pytest.mark.parametrize(
    ("chord", "note", "belongs"),
    [
        ("B3+D4+F4", "G1", True),  # G7, its root left to the bass
        ("B3+D4+F4+A4", "G1", True),  # G9
        ("B3+D4+F4", "G#1", True),  # completes the diminished seventh
        ("B3+D4+F4", "C#2", False),
        ("B3+D4+F4", "F#1", False),
        ("B3+D4+F4+A4", "G#1", False),
    ],
)
def test_what_completes_a_diminished_chord_belongs_to_it(
    chord: str, note: str, belongs: bool
) -> None:
    keys = f"keys | C4+E4+G4:4 | {chord}:4 |*4"
    chart = heard(f"tempo 120\n{keys}\nsub | {FUNCTIONS_UNDER.format(note=note)}")
    second = [FUNCTIONS[f] for f in chart.functions.tolist()[1::2]]
    assert {f in ("root", "chord-tone") for f in second} == {belongs}
