"""How much does the harmony stand on a line? Textbook harmony: root position and inversions."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard

from basslint.hear.parts.standing import root_support


def support(line: str, *others: str) -> float:
    song = heard("\n".join(("tempo 120", f"line | {line}", *others))).song
    part = song.notes.part.astype(np.int64)
    asked = np.arange(len(song.parts)) == 0
    result = root_support(song.notes, part, asked, ~asked, song.division)
    assert (result[1:] == 0).all()
    return float(result[0])


TRIADS = "a | C4+E4+G4:4 | A3+C4+E4:4 | F3+A3+C4:4 | G3+B3+D4:4 |"


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("C2:4 | A1:4 | F1:4 | G1:4 |", 1),  # roots: unison, third and fifth, all of them
        ("C#2:4 | A#1:4 | F#1:4 | G#1:4 |", 1),  # the same a semitone off
        ("E2:4 | C2:4 | A1:4 | B1:4 |", 1 / 3),  # thirds: a sixth above them lies the root
        ("G2:4 | E2:4 | C2:4 | D2:4 |", -1 / 3),  # fifths: a fourth and a sixth above
        (".:4 | .:4 | F1:4 | .:4 |", 1),  # only what it plays
    ],
)
def test_it_is_how_much_of_the_chord_lies_on_the_note_as_on_a_root(
    line: str, expected: float
) -> None:
    found = support(line, TRIADS)
    assert found == pytest.approx(expected) or (expected < 1 and expected <= found < 1)


def test_nothing_beside_it_stands_on_nothing() -> None:
    assert support("C2:4 | G1:4 |") == 0
    assert support("C2:1 .:3 | .:4 |", "a | .:4 | C4+E4+G4:4 |") == 0


def test_its_own_notes_are_not_counted() -> None:
    assert support("C2+E2:4 | C2+E2:4 |") == 0
    assert support("C2+G2:4 |", "a | A3:4 |", "b | A4:4 |") == support("C2+G2:4 |", "a | A3:4 |")
