"""The raised sixth and seventh of melodic minor lead up to the tonic (Open Music Theory)."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.base import registered
from basslint.rulebook.loader import read_book

KEYS = "key C minor\nkeys | C4+Eb4+G4:4 | Ab3+C4+Eb4:4 | C4+Eb4+G4:4 | G3+C4+Eb4:4 |*4\n"
LOOP = "C2:4 | Ab1:4 | C2:4 | C2:4"


def beat(line: str) -> str:
    """16 bars in C minor; the bass plays another line in bar 3."""
    return f"tempo 120\n{KEYS}sub | C2:4 | Ab1:4 | {line} | C2:4 || {LOOP} |*3\n"


@pytest.mark.parametrize(
    ("line", "rises"),
    [
        ("A1:2 B1:2", [1, 1]),  # then C
        ("A1:1 A1:1 B1:2", [1, 1, 1]),
        ("A1:2 B1:1 Bb1:1", [0, 0, 0]),  # does not arrive
        ("A1:2 Bb1:2", [0, 0]),
        ("B1:2 A1:2", [0, 0]),
        ("A1:1 .:1.5 B1:1.5", [0, 0]),  # a rest between
    ],
)
def test_sixth_and_seventh_rise_to_a_minor_tonic(line: str, rises: list[int]) -> None:
    chart = heard(beat(line))
    told = registered("bass-note")["rises_in_minor"].column(chart)
    assert [int(told[row]) for row in range(2, 2 + len(rises))] == rises
    assert not told[2 + len(rises) :].any()


def test_a_sixth_that_rubs_is_none() -> None:
    """B flat beside A, held by an organ through bar 3."""
    organ = "organ | .:4 | .:4 | Bb4:4 | .:4 || .:4 |*12\n"
    told = registered("bass-note")["rises_in_minor"].column(heard(beat("A1:2 B1:2") + organ))
    assert not told.any()


def test_under_major_it_is_no_melodic_minor() -> None:
    text = beat("A1:2 B1:2").replace("Eb4", "E4").replace("C minor", "C major")
    assert not registered("bass-note")["rises_in_minor"].column(heard(text)).any()


@pytest.mark.parametrize(("line", "told"), [("A1:2 B1:2", []), ("A1:2 C2:2", [3])])
def test_a_rising_sixth_under_the_tonic_is_no_wrong_note(line: str, told: list[int]) -> None:
    (rule,) = (r for r in read_book() if r.name == "off-root")
    loud = [f for f in judged(beat(line), [rule]).findings if f.level != "note"]
    assert [f.where.bar for f in loud] == told
